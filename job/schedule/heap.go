package schedule

// varHeap is a binary heap of variables by falling activity; ties go to the
// lower index, so that every run is the same.
type varHeap struct {
	heap []int32
	idx  []int32 // by variable: place in heap, or -1
}

func (h *varHeap) grow(n int) {
	for len(h.idx) < n {
		h.idx = append(h.idx, -1)
	}
}

func (h *varHeap) above(a, b int32, act []float64) bool {
	return act[a] > act[b] || (act[a] == act[b] && a < b)
}

func (h *varHeap) up(i int, act []float64) {
	v := h.heap[i]
	for i > 0 {
		p := (i - 1) / 2
		if !h.above(v, h.heap[p], act) {
			break
		}
		h.heap[i] = h.heap[p]
		h.idx[h.heap[i]] = int32(i)
		i = p
	}
	h.heap[i] = v
	h.idx[v] = int32(i)
}

func (h *varHeap) down(i int, act []float64) {
	v := h.heap[i]
	for {
		c := 2*i + 1
		if c >= len(h.heap) {
			break
		}
		if c+1 < len(h.heap) && h.above(h.heap[c+1], h.heap[c], act) {
			c++
		}
		if !h.above(h.heap[c], v, act) {
			break
		}
		h.heap[i] = h.heap[c]
		h.idx[h.heap[i]] = int32(i)
		i = c
	}
	h.heap[i] = v
	h.idx[v] = int32(i)
}

// insert adds v if it has any activity.
func (h *varHeap) insert(v int32, act []float64) {
	if h.idx[v] >= 0 || act[v] == 0 {
		return
	}
	h.heap = append(h.heap, v)
	h.idx[v] = int32(len(h.heap) - 1)
	h.up(len(h.heap)-1, act)
}

func (h *varHeap) pop(act []float64) int32 {
	v := h.heap[0]
	h.idx[v] = -1
	end := h.heap[len(h.heap)-1]
	h.heap = h.heap[:len(h.heap)-1]
	if len(h.heap) > 0 {
		h.heap[0] = end
		h.idx[end] = 0
		h.down(0, act)
	}
	return v
}

func (h *varHeap) remove(v int32, act []float64) {
	i := h.idx[v]
	if i < 0 {
		return
	}
	h.idx[v] = -1
	end := h.heap[len(h.heap)-1]
	h.heap = h.heap[:len(h.heap)-1]
	if int(i) < len(h.heap) {
		h.heap[i] = end
		h.idx[end] = i
		h.down(int(i), act)
		h.up(int(h.idx[end]), act)
	}
}

func (e *engine) bump(v int32) {
	e.act[v] += e.varInc
	if e.act[v] > 1e100 {
		for i := range e.act {
			e.act[i] *= 1e-100
		}
		e.varInc *= 1e-100
	}
	if i := e.heap.idx[v]; i >= 0 {
		e.heap.up(int(i), e.act)
	} else if e.val[mkLit(v)] == 0 {
		e.heap.insert(v, e.act)
	}
}
