package server

import (
	"context"

	"github.com/labstack/echo/v4"

	"wayfall/server/catalogue"
	"wayfall/server/intake"
	"wayfall/server/web"
)

// newDesk hands the desk everything it shows.
func (s *Server) newDesk(clerk *catalogue.Clerk) *web.Desk {
	d := &web.Desk{Institution: s.cfg.Name, Device: s.store.Identity().Device.String(), Demo: s.cfg.Demo, Now: s.cfg.Now,
		Zone: s.cfg.Zone, Door: s.people, Book: s.book, Hands: clerk, Office: s.office, Queue: queue{watch{s.intake, s.lender}}, Duties: s.book.Duties,
		Head: func(ctx context.Context, lsn uint64) (string, error) {
			at, err := s.head(ctx, lsn)
			return at.Head, err
		},
		Asker: &asker{Server: s, taxa: s.office.Names.Taxa}, Past: answered{s},
		Papers: paperDesk{s}, Names: s.office.Names, Photo: photos{s.store}.Photo,
		Failed: func(c echo.Context, err error) {
			s.cfg.Log.Error("our fault", "error", err, "method", c.Request().Method, "path", c.Path())
		}}
	if s.lines != nil {
		d.Outlines = web.Borders(s.lines)
	}
	return d
}

// queue is intake's list of what needs a look under the desk's own word for a
// hand.
type queue struct{ watch }

// Settle implements web.Queue.
func (q queue) Settle(ctx context.Context, by catalogue.Hand, id, how, note string) error {
	return q.watch.Settle(ctx, intake.Hand(by), id, how, note)
}
