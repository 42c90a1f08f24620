package cost

import (
	"time"

	"caul/job/measure"
)

// Bill is what the jobs cost: to buy, spent, used and left over.
//
// Cost is the sum of the lines; Total is Cost and Tax, what is paid at the
// till. Left is the part of Cost that is left over when the jobs are done, Used
// what goes into the jigs, from the shelf too. All sums are in the shop's
// currency; a sum in another is named in Warn and never added.
type Bill struct {
	Jobs     []string      `json:"jobs"`
	Copies   int           `json:"copies"` // of each job; 0 where the jobs differ
	Buy      []Line        `json:"buy"`    // whole packs
	Cost     measure.Money `json:"cost"`   // sum of the lines
	Tax      measure.Money `json:"tax"`
	TaxRate  string        `json:"tax_rate,omitempty"`      // percent
	Total    measure.Money `json:"total"`                   // cost and tax
	Used     measure.Money `json:"used"`                    // value of what goes into the jig
	Had      measure.Money `json:"had,omitzero"`            // of that, what is not on the buy list: from the shelf, or there already
	Left     measure.Money `json:"left"`                    // value of what is bought and left over
	Offcuts  measure.Money `json:"offcuts"`                 // of that, offcuts worth keeping
	Credit   bool          `json:"offcut_credit,omitempty"` // offcuts are taken off the price of a copy
	Spent    measure.Money `json:"spent"`                   // from the log
	Spends   []Spend       `json:"spends,omitempty"`
	Planned  measure.Money `json:"planned"` // what was spent and what is still to be paid
	Hours    measure.Span  `json:"hours,omitempty"`
	Labour   measure.Money `json:"labour,omitzero"`
	PerCopy  measure.Money `json:"per_copy"` // spent and total, labour, less offcuts where asked; zero where copies differ
	Missing  []string      `json:"missing,omitempty"`
	Warn     []string      `json:"warnings,omitempty"`
	Baskets  []Basket      `json:"baskets,omitempty"` // the best with one supplier, with two, ... until more do not help
	OneStop  string        `json:"one_stop,omitempty"`
	Currency string        `json:"currency"`
}

// Line is one item of the buy list. An item that is best bought in packs of
// two sizes has two lines; need and on hand stand on the first.
type Line struct {
	Item     string        `json:"item"`
	Kind     string        `json:"kind"` // stock, hardware, glue, finish, abrasive, cutter
	Need     string        `json:"need"` // "24", "180 ml"
	OnHand   string        `json:"on_hand,omitempty"`
	Packs    int           `json:"packs"`
	Pack     string        `json:"pack"` // "50 pieces", "1 l"
	Supplier string        `json:"supplier,omitempty"`
	Each     measure.Money `json:"each"`
	Cost     measure.Money `json:"cost"`
	Used     measure.Money `json:"used"`
	Left     string        `json:"left,omitempty"`
	Worth    measure.Money `json:"left_worth"` // value of what is left
	Dated    time.Time     `json:"dated,omitzero"`
	Priced   bool          `json:"priced"`
	Job      string        `json:"job,omitempty"`
}

// Basket is one way to shop: which suppliers, and the total before tax.
type Basket struct {
	Suppliers []string      `json:"suppliers"`
	Total     measure.Money `json:"total"`
	Missing   []string      `json:"missing,omitempty"`
}

// Spend is what was paid for an item, against the price book of today.
type Spend struct {
	Item  string        `json:"item"`
	Packs int           `json:"packs"`
	Paid  measure.Money `json:"paid"`
	Book  measure.Money `json:"book"` // the same packs at the price book; zero where it has none
	Job   string        `json:"job"`
}

// Copy is what a number of copies cost.
type Copy struct {
	Copies  int           `json:"copies"`
	Total   measure.Money `json:"total"` // with tax; with labour and less offcuts where asked
	PerCopy measure.Money `json:"per_copy"`
	Missing []string      `json:"missing,omitempty"` // items with no price, which no sum holds
	Warn    []string      `json:"warnings,omitempty"`
}
