package kit

import "sync"

// Memo keeps the last few results of something slow, so that a page that is
// asked for again comes at once. What it holds depends on nothing but its key.
// Its values are shared: they are read, never changed.
type Memo[K comparable, V any] struct {
	Most int // results kept; 0: 16

	mu    sync.Mutex
	have  map[K]V
	order []K // oldest first
}

// Get returns what make gives for the key, from memory where it can. One
// caller computes at a time.
func (m *Memo[K, V]) Get(key K, compute func() (V, error)) (V, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if v, ok := m.have[key]; ok {
		return v, nil
	}
	v, err := compute()
	if err != nil {
		return v, err
	}
	if m.have == nil {
		m.have = map[K]V{}
	}
	most := m.Most
	if most == 0 {
		most = 16
	}
	if len(m.order) == most {
		delete(m.have, m.order[0])
		m.order = m.order[1:]
	}
	m.have[key] = v
	m.order = append(m.order, key)
	return v, nil
}
