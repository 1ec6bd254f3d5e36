package server

import (
	"context"
	"log/slog"
	"strings"
	"sync"
	"time"

	"github.com/labstack/echo/v4"

	"wayfall/server/intake"
)

// A push is answered when it is durable. What it brought is screened when no
// push has come for quiet, and at the latest after patience; and before that
// if anybody asks for anything that may rest on it. So a phone that hands in a
// season in many batches waits for no rules, and everything is counted once.
const (
	quiet    = time.Second
	patience = 10 * time.Second
)

// screener has what was pushed screened. It keeps no list: intake knows from
// the log what is not screened yet, after a crash too.
type screener struct {
	intake *intake.Intake
	log    *slog.Logger

	mu      sync.Mutex
	timer   *time.Timer // nil: nothing waits
	since   time.Time   // of the first push that waits
	running int
}

// pushed says that there is something to screen.
func (s *screener) pushed() {
	s.mu.Lock()
	defer s.mu.Unlock()
	switch {
	case s.timer == nil:
		s.since = time.Now()
		s.timer = time.AfterFunc(quiet, s.settle)
	case time.Since(s.since) < patience:
		s.timer.Reset(quiet)
	}
}

// settle returns once everything that was pushed before is screened. A failure
// is ours and is mended at the next push; nothing is lost by it.
func (s *screener) settle() {
	if !s.begin() {
		return
	}
	defer s.end()
	defer func() {
		if p := recover(); p != nil { // rules that fail on one report must not end the server
			s.log.Error("screen what was pushed", "panic", p)
		}
	}()
	if _, err := s.intake.Screen(context.Background()); err != nil {
		s.log.Error("screen what was pushed", "error", err)
	}
}

// begin reports whether something waits to be screened or is being screened.
func (s *screener) begin() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.timer == nil && s.running == 0 {
		return false
	}
	if s.timer != nil {
		s.timer.Stop()
		s.timer = nil
	}
	s.running++
	return true
}

func (s *screener) end() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.running--
}

// heedless are the addresses whose answers rest on no verdict.
var heedless = []string{"/v1/sync/push", "/v1/sync/hello", "/v1/health", "/v1/openapi.yaml", "/v1/sign-in", "/v1/token", "/v1/photos/", "/field/"}

// before has everything screened before anybody else is answered.
func (s *screener) before(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		for _, path := range heedless {
			if strings.HasPrefix(c.Request().URL.Path, path) {
				return next(c)
			}
		}
		s.settle()
		return next(c)
	}
}
