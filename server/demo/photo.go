package demo

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"net/http"

	"wayfall/fixtures/scenario"
	"wayfall/sync/record"
)

// photo is a picture with what a report claims of it.
type photo struct {
	Claim record.Photo
	Bytes []byte
}

func photoOf(r scenario.Report) photo {
	b := r.Photo.Bytes()
	sum := sha256.Sum256(b)
	return photo{record.Photo{SHA256: hex.EncodeToString(sum[:]), Size: int64(len(b)), Type: "image/png",
		Caption: r.Photo.Label, At: r.Made}, b}
}

// PutPhoto hands in the bytes of a photo.
func (c *Client) PutPhoto(ctx context.Context, p photo) error {
	sum := sha256.Sum256(p.Bytes)
	req, err := http.NewRequestWithContext(ctx, http.MethodPut, c.Base+"/v1/photos/"+p.Claim.SHA256, bytes.NewReader(p.Bytes))
	if err != nil {
		return err
	}
	req.Header.Set("Content-Type", p.Claim.Type)
	req.Header.Set("Content-Digest", "sha-256=:"+base64.StdEncoding.EncodeToString(sum[:])+":")
	_, err = c.send(req)
	return err
}
