package schedule

import "io"

// proofLog writes what CheckProof replays.
type proofLog struct {
	w io.Writer
}

func newProofLog(w io.Writer, e *engine) *proofLog { return &proofLog{w: w} }

func (p *proofLog) lemma(e *engine, t *entry, k int32, v int64, why []atom) {}
func (p *proofLog) conflict(e *engine)                                      {}
func (p *proofLog) learned(e *engine, atoms []atom)                         {}
