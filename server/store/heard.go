package store

import (
	"context"

	"wayfall/sync/op"
)

// Heard returns when the newest operation of a device came in, in milliseconds;
// 0 if none ever did.
func (s *Store) Heard(ctx context.Context, dev op.DeviceID) (ms int64, err error) {
	err = s.read(ctx, func(c *conn) error {
		_, err := c.one("SELECT o.received FROM op o JOIN device d ON d.n = o.dev WHERE d.id = ? ORDER BY o.seq DESC LIMIT 1",
			func(r row) { ms = r.int(0) }, dev[:])
		return err
	})
	return ms, err
}
