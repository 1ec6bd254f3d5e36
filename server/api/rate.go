package api

import (
	"net/http"
	"strconv"
	"sync"
	"time"

	"github.com/labstack/echo/v4"
)

// rate lets each address try a few times at once and then at a steady pace. It
// forgets addresses that have been quiet, so that it cannot be made to grow.
type rate struct {
	mu     sync.Mutex
	burst  float64
	every  time.Duration // one more try each
	known  map[string]bucket
	cap    int
	whilst time.Time // last sweep
}

type bucket struct {
	left float64
	at   time.Time
}

func newRate(burst int, every time.Duration) *rate {
	return &rate{burst: float64(burst), every: every, known: map[string]bucket{}, cap: 10000}
}

// take uses up one try, or returns how long to wait for the next.
func (r *rate) take(who string, now time.Time) (wait time.Duration) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.sweep(now)
	b, ok := r.known[who]
	if !ok {
		if len(r.known) >= r.cap {
			return r.every
		}
		b = bucket{left: r.burst, at: now}
	}
	if gone := now.Sub(b.at); gone > 0 {
		b.left = min(r.burst, b.left+float64(gone)/float64(r.every))
		b.at = now
	}
	if b.left < 1 {
		r.known[who] = b
		return time.Duration((1 - b.left) * float64(r.every))
	}
	b.left--
	r.known[who] = b
	return 0
}

func (r *rate) sweep(now time.Time) {
	full := time.Duration(r.burst) * r.every
	rest := full
	if len(r.known) >= r.cap {
		rest = r.every // full: look more often, but not at every try
	}
	if gone := now.Sub(r.whilst); gone >= 0 && gone < rest {
		return
	}
	r.whilst = now
	for who, b := range r.known {
		if now.Sub(b.at) >= full {
			delete(r.known, who)
		}
	}
}

// Slowly lets one address try to sign in only so often.
func (a *API) Slowly(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		if wait := a.tries.take(c.RealIP(), a.now()); wait > 0 {
			seconds := int((wait + time.Second - 1) / time.Second)
			c.Response().Header().Set("Retry-After", strconv.Itoa(seconds))
			return problem(http.StatusTooManyRequests, "too_many", "too many tries from this address; the next is free in %d s", seconds)
		}
		return next(c)
	}
}
