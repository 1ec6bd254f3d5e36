package intake

import (
	"context"

	"wayfall/permits"
	"wayfall/server/fault"
	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// Amend keeps an edition of an authority that somebody wrote looking at
// edition saw, the newest there was; 0 is none, for a new authority. When
// somebody else was faster nothing is kept.
func (in *Intake) Amend(ctx context.Context, by Hand, next permits.Authority, saw int) error {
	next.Version = 0
	return in.edition(ctx, by, next, func(earlier []permits.Authority) error {
		newest := 0
		for i := range earlier {
			newest = max(newest, earlier[i].Version, 1)
		}
		switch {
		case newest == saw:
			return nil
		case saw == 0:
			return fault.New(fault.Conflict, "an authority called %q is kept here already", next.ID).At("/id", "this name is taken; open that paper and amend it")
		}
		return fault.New(fault.Stale, "edition %d was entered while you wrote; you were looking at edition %d", newest, saw)
	})
}

// edition keeps an edition if it can be meant and fits what is kept already.
func (in *Intake) edition(ctx context.Context, by Hand, next permits.Authority, fits func(earlier []permits.Authority) error) error {
	if err := in.meant(ctx, next); err != nil {
		return err
	}
	id := AuthorityID(next.ID)
	err := in.writer.WriteIf(ctx, by, func(read Read) ([]op.Group, error) {
		s, err := read(id)
		if err != nil {
			return nil, err
		}
		s.ID, s.Kind = id, record.Authority
		earlier := editions(s)
		if err := fits(earlier); err != nil {
			return nil, err
		}
		doc, err := withEditions(next, earlier)
		if err != nil {
			return nil, err
		}
		return []op.Group{{ID: id, Kind: string(record.Authority),
			Acts: []op.Act{op.Set("document", doc, s.Saw("document", op.DeviceID{})...)}}}, nil
	})
	if err != nil {
		return err
	}
	_, err = in.Screen(ctx)
	return err
}

// AddScan links a picture of the paper to its authority. The bytes travel on
// their own.
func (in *Intake) AddScan(ctx context.Context, by Hand, paper string, scan record.Photo) error {
	id := AuthorityID(paper)
	return in.writer.WriteIf(ctx, by, func(read Read) ([]op.Group, error) {
		s, err := read(id)
		if err == nil && (s.Empty() || s.Kind != record.Authority) || fault.Is(err, fault.Missing) {
			err = fault.New(fault.Missing, "no permit of that name is known here")
		}
		if err != nil {
			return nil, err
		}
		v, err := op.ValueOf(scan)
		if err != nil {
			return nil, err
		}
		if held(s, scan.SHA256) {
			return nil, nil
		}
		return []op.Group{{ID: id, Kind: string(record.Authority), Acts: []op.Act{op.Add("scans", v)}}}, nil
	})
}

// held tells whether a scan of those bytes is linked already.
func held(s merge.State, sha256 string) bool {
	for _, e := range s.Field("scans").Elements {
		var p record.Photo
		if e.JSON.Into(&p) == nil && p.SHA256 == sha256 {
			return true
		}
	}
	return false
}
