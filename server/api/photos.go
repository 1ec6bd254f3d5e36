package api

import (
	"bytes"
	"encoding/base64"
	"encoding/hex"
	"image"
	_ "image/jpeg" // opened here to see that a photo is one
	_ "image/png"
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"
)

// largestSide bounds the pixels a picture may claim, so that a small file
// cannot ask for a large memory.
const largestSide = 20000

// PutPhoto keeps the bytes of a photo under their SHA-256.
func (a *API) PutPhoto(c echo.Context) error {
	name := c.Param("sha256")
	body, err := read(c, limitPhoto)
	if err != nil {
		return err
	}
	if got := digestOf(body); got != name {
		return problem(http.StatusUnprocessableEntity, "digest", "the bytes have the SHA-256 %s, not the one in the address; nothing was kept, so send them again", got)
	}
	if err := contentDigest(c.Request().Header.Get("Content-Digest"), body); err != nil {
		return err
	}
	kind, ok := picture(body)
	if !ok {
		return problem(http.StatusUnprocessableEntity, "photo_not_a_picture", "these bytes are no JPEG or PNG picture that can be opened; the report keeps its link to them and waits for a look")
	}
	if err := a.Photos.PutPhoto(c.Request().Context(), name, kind, body); err != nil {
		return err
	}
	return c.NoContent(http.StatusNoContent)
}

// picture opens the bytes as a picture and says of which type it is.
func picture(body []byte) (mediaType string, ok bool) {
	head, kind, err := image.DecodeConfig(bytes.NewReader(body))
	if err != nil || head.Width < 1 || head.Height < 1 || head.Width > largestSide || head.Height > largestSide {
		return "", false
	}
	return "image/" + kind, true
}

// contentDigest checks the Content-Digest header of RFC 9530, if there is one.
func contentDigest(header string, body []byte) error {
	for _, one := range strings.Split(header, ",") {
		name, value, ok := strings.Cut(strings.TrimSpace(one), "=")
		if !ok || name != "sha-256" {
			continue
		}
		want, err := base64.StdEncoding.DecodeString(strings.Trim(value, ":"))
		if err != nil || hex.EncodeToString(want) != digestOf(body) {
			return problem(http.StatusBadRequest, "digest", "the body does not have the Content-Digest it came with; nothing was kept, so send it again")
		}
	}
	return nil
}

// Photo hands out the bytes of a photo.
func (a *API) Photo(c echo.Context) error {
	body, kind, err := a.Photos.Photo(c.Request().Context(), c.Param("sha256"))
	if err != nil {
		return err
	}
	if body == nil {
		return problem(http.StatusNotFound, "missing", "that photo has not been handed in yet")
	}
	h := c.Response().Header()
	h.Set("Cache-Control", "private, max-age=31536000, immutable")
	h.Set("ETag", `"`+c.Param("sha256")+`"`)
	return c.Blob(http.StatusOK, kind, body)
}

// FieldKit hands out all that a phone needs while it has no signal.
func (a *API) FieldKit(c echo.Context) error {
	body, tag, err := a.Kit(c.Request().Context())
	if err != nil {
		return err
	}
	h := c.Response().Header()
	h.Set("ETag", `"`+tag+`"`)
	h.Set("Cache-Control", "private, no-cache")
	for _, known := range strings.Split(c.Request().Header.Get("If-None-Match"), ",") {
		known = strings.TrimSpace(known)
		if known == "*" || strings.TrimPrefix(known, "W/") == `"`+tag+`"` {
			return c.NoContent(http.StatusNotModified)
		}
	}
	return c.Blob(http.StatusOK, "application/json", body)
}
