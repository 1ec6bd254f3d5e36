package server

import (
	"context"

	"wayfall/server/intake"
)

// answered is the answers in the log under the desk's own words.
type answered struct{ *Server }

// Answers implements web.Past.
func (a answered) Answers(ctx context.Context, report string) ([]intake.Answer, error) {
	return a.intake.Answers(ctx, report, a.store.RecordAt)
}

// Again implements web.Past.
func (a answered) Again(ctx context.Context, report string) ([]intake.Again, error) {
	all, err := a.Answers(ctx, report)
	if err != nil {
		return nil, err
	}
	var which []intake.Stored
	for _, one := range all {
		if one.Read {
			which = append(which, intake.Stored{Report: report, LSN: one.LSN})
		}
	}
	return a.AskAgain(ctx, which)
}

// AskAgain puts the questions of stored answers once more, by the rules that
// are loaded and the papers and numbers as the log had them then. Nothing is
// written.
func (s *Server) AskAgain(ctx context.Context, which []intake.Stored) ([]intake.Again, error) {
	return s.intake.AskAgain(ctx, which, s.store.RecordAt)
}
