package server

import (
	"context"

	"wayfall/permits"
	"wayfall/server/api"
	"wayfall/server/catalogue"
	"wayfall/server/fault"
	"wayfall/server/reports/feed"
	"wayfall/server/reports/printed"
)

// files answers with papers.
func (s *Server) files() api.Files {
	paper := printed.Paper(s.cfg.Paper)
	if paper == "" && s.cfg.Demo {
		paper = printed.Letter
	}
	return api.Files{API: s.api, Institution: s.cfg.Name, Paper: paper, Sets: printed.Shipped(),
		Keys: feed.Keys{Store: shelves{s.store}, Chance: s.cfg.Chance}, AsOf: s.reading, Head: s.head, Duties: s.duties}
}

// reading is the log now, or as it stood at a place or a moment. "now" is what
// is known now, kept still.
func (s *Server) reading(ctx context.Context, text string) (api.Reading, error) {
	now := s.cfg.Now().In(s.cfg.Zone)
	today := permits.NewDate(now.Year(), int(now.Month()), now.Day())
	switch last := s.store.Last(); {
	case text == "" || text == "now" && last == 0:
		return api.Reading{Office: s.office, Book: s.book, Day: today}, nil
	case text == "now":
		e, err := s.asOf(ctx, last)
		if err != nil {
			return api.Reading{}, err
		}
		return api.Reading{Office: e.office, Book: e.book, Day: today}, nil
	}
	lsn, err := s.place(ctx, text)
	if err != nil {
		return api.Reading{}, err
	}
	e, err := s.asOf(ctx, lsn)
	if err != nil {
		return api.Reading{}, err
	}
	return api.Reading{Office: e.office, Book: e.book, Day: e.day}, nil
}

// duties are all duties, and the place in the log at which they were read.
func (s *Server) duties(ctx context.Context) ([]catalogue.Duty, catalogue.Place, error) {
	at, err := s.book.Place(ctx)
	if err != nil {
		return nil, at, err
	}
	all, err := s.book.Duties(ctx)
	return all, at, err
}

// head is the place of an entry with the head of the log there, summed up from
// the first entry on.
func (s *Server) head(ctx context.Context, lsn uint64) (catalogue.Place, error) {
	if last := s.store.Last(); lsn == 0 || lsn > last {
		return catalogue.Place{}, fault.New(fault.Missing, "the log has the entries 1 to %d, and no entry %d", last, lsn)
	}
	at := first
	for at.lsn < lsn {
		entries, err := s.log.Read(ctx, at.lsn, int(min(page, lsn-at.lsn)))
		if err != nil {
			return catalogue.Place{}, err
		}
		if len(entries) == 0 {
			return catalogue.Place{}, fault.New(fault.Internal, "the log ends at %d before entry %d", at.lsn, lsn)
		}
		for i := range entries {
			at = at.next(&entries[i])
		}
	}
	return at.place(), nil
}
