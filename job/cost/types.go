package cost

import (
	"time"

	"caul/job/measure"
)

// Bill is what the jobs cost: to buy, spent, used and left over.
type Bill struct {
	Jobs    []string      `json:"jobs"`
	Copies  int           `json:"copies"`
	Buy     []Line        `json:"buy"` // whole packs
	Total   measure.Money `json:"total"`
	Tax     measure.Money `json:"tax"`
	Used    measure.Money `json:"used"`  // value of what goes into the jig
	Left    measure.Money `json:"left"`  // value of what is bought and left over
	Spent   measure.Money `json:"spent"` // from the log
	Hours   measure.Span  `json:"hours"`
	Labour  measure.Money `json:"labour"`
	PerCopy measure.Money `json:"per_copy"`
	Missing []string      `json:"missing,omitempty"` // items with no price
	Warn    []string      `json:"warnings,omitempty"`
	Baskets []Basket      `json:"baskets,omitempty"`
}

// Line is one item of the buy list.
type Line struct {
	Item     string        `json:"item"`
	Kind     string        `json:"kind"` // stock, hardware, glue, finish, abrasive
	Need     string        `json:"need"` // "24", "180 ml"
	OnHand   string        `json:"on_hand,omitempty"`
	Packs    int           `json:"packs"`
	Pack     string        `json:"pack"` // "50 pieces", "1 l"
	Supplier string        `json:"supplier,omitempty"`
	Each     measure.Money `json:"each"`
	Cost     measure.Money `json:"cost"`
	Used     measure.Money `json:"used"`
	Left     string        `json:"left,omitempty"`
	Dated    time.Time     `json:"dated,omitzero"`
	Priced   bool          `json:"priced"`
	Job      string        `json:"job,omitempty"`
}

// Basket is one way to shop: which suppliers, and the total.
type Basket struct {
	Suppliers []string      `json:"suppliers"`
	Total     measure.Money `json:"total"`
	Missing   []string      `json:"missing,omitempty"`
}
