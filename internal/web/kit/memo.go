package kit

import (
	"slices"
	"sync"
)

// Memo keeps the last few results of something slow, so that a page that is
// asked for again comes at once. What it holds depends on nothing but its key.
// Its values are shared: they are read, never changed.
type Memo[K comparable, V any] struct {
	Most int // results kept; 0: 16

	mu    sync.Mutex
	have  map[K]*result[V]
	order []K // oldest first
}

// result is one that is there, or on its way until ready is closed.
type result[V any] struct {
	ready chan struct{}
	done  bool
	value V
	err   error
}

// Get returns what compute gives for the key, from memory where it can. Two
// callers with one key compute once; another key waits for nobody. A failure is
// not kept.
func (m *Memo[K, V]) Get(key K, compute func() (V, error)) (V, error) {
	m.mu.Lock()
	if r := m.have[key]; r != nil {
		m.mu.Unlock()
		<-r.ready
		if r.done {
			return r.value, r.err
		}
		return compute() // the other one panicked
	}
	if m.have == nil {
		m.have = map[K]*result[V]{}
	}
	most := m.Most
	if most == 0 {
		most = 16
	}
	if len(m.order) == most {
		delete(m.have, m.order[0])
		m.order = m.order[1:]
	}
	r := &result[V]{ready: make(chan struct{})}
	m.have[key] = r
	m.order = append(m.order, key)
	m.mu.Unlock()

	defer func() {
		if !r.done || r.err != nil {
			m.mu.Lock()
			if m.have[key] == r {
				delete(m.have, key)
				m.order = slices.DeleteFunc(m.order, func(k K) bool { return k == key })
			}
			m.mu.Unlock()
		}
		close(r.ready)
	}()
	r.value, r.err = compute()
	r.done = true
	return r.value, r.err
}
