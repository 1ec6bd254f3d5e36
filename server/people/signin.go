package people

import (
	"context"
	"encoding/base64"
	"fmt"
	"io"
	"strings"
	"time"

	"wayfall/server/fault"
)

// codeLetters are easy to read aloud and hard to mix up: no I, L, O, U, 0, 1.
const codeLetters = "ABCDEFGHJKMNPQRSTVWXYZ23456789"

// CodeTerms say how a sign-in code may be used.
type CodeTerms struct {
	Text     string // the code itself; "" draws one
	Lasts    time.Duration
	Reusable bool // only for demonstrations: the code stays good until it expires
}

type keptCode struct {
	Person   string `json:"person"`
	Expires  int64  `json:"expires_ms"`
	Reusable bool   `json:"reusable,omitempty"`
	Used     int64  `json:"used_ms,omitempty"`
}

type keptToken struct {
	Person  string `json:"person"`
	Device  string `json:"device,omitempty"`
	Expires int64  `json:"expires_ms"`
	Revoked int64  `json:"revoked_ms,omitempty"`
}

// DeviceClaim is what a device says of itself at sign-in.
type DeviceClaim struct {
	ID   string `json:"id"`
	Name string `json:"name,omitempty"`
}

// Signed is the answer to a sign-in.
type Signed struct {
	Access    string
	ExpiresIn time.Duration
	Refresh   string // "" for a sign-in without a device
	Person    Person
	Device    Device // zero for a sign-in without a device
}

// IssueCode makes a code with which the person can sign in, and returns it; it
// is not readable afterwards.
func (b *Book) IssueCode(ctx context.Context, person string, t CodeTerms) (string, error) {
	if _, err := b.Person(ctx, person); err != nil {
		return "", err
	}
	if t.Lasts <= 0 {
		return "", fault.New(fault.Invalid, "a code needs a time after which it no longer works")
	}
	if t.Text == "" {
		drawn, err := b.draw(codeLetters, 10)
		if err != nil {
			return "", err
		}
		t.Text = drawn
	}
	kept := keptCode{Person: person, Expires: b.terms.Now().Add(t.Lasts).UnixMilli(), Reusable: t.Reusable}
	return t.Text, put(ctx, b.store, codeShelf, b.digest(codeShelf, plainCode(t.Text)), kept)
}

// plainCode lets people type a code in any case and with spaces or hyphens.
func plainCode(code string) string {
	return strings.ToUpper(strings.NewReplacer(" ", "", "-", "").Replace(code))
}

// draw takes n letters of the alphabet, each equally likely.
func (b *Book) draw(alphabet string, n int) (string, error) {
	out := make([]byte, 0, n)
	limit := 256 - 256%len(alphabet)
	var one [1]byte
	for len(out) < n {
		if _, err := io.ReadFull(b.terms.Chance, one[:]); err != nil {
			return "", fmt.Errorf("draw letters: %w", err)
		}
		if int(one[0]) < limit {
			out = append(out, alphabet[int(one[0])%len(alphabet)])
		}
	}
	return string(out), nil
}

// spend uses up a code and returns whose it was.
func (b *Book) spend(ctx context.Context, code string) (Person, error) {
	var whose string
	wrong := fault.New(fault.Unauthenticated, "this code does not work; ask for a new one")
	if plainCode(code) == "" {
		return Person{}, wrong
	}
	err := edit(ctx, b.store, codeShelf, b.digest(codeShelf, plainCode(code)), func(c *keptCode, exists bool) error {
		now := b.nowMS()
		if !exists || now >= c.Expires || (c.Used != 0 && !c.Reusable) {
			return wrong
		}
		c.Used, whose = now, c.Person
		return nil
	})
	if err != nil {
		return Person{}, err
	}
	p, err := b.Person(ctx, whose)
	if err == nil && p.Left {
		err = wrong
	}
	return p, err
}

// SignIn spends a code. With a device it enrols the device and hands out a
// refresh token; without one it only hands out an access token.
func (b *Book) SignIn(ctx context.Context, code string, claim *DeviceClaim) (Signed, error) {
	if claim != nil {
		if err := b.mayEnrol(*claim); err != nil {
			return Signed{}, err
		}
	}
	p, err := b.spend(ctx, code)
	if err != nil {
		return Signed{}, err
	}
	out := Signed{Person: p, ExpiresIn: b.terms.Access}
	if claim != nil {
		if out.Device, err = b.enrol(ctx, p, *claim); err != nil {
			return Signed{}, err
		}
		if out.Refresh, err = b.handOut(ctx, refreshShelf, p.ID, out.Device.ID, b.terms.Refresh); err != nil {
			return Signed{}, err
		}
	}
	out.Access, err = b.sign(p, out.Device.ID)
	return out, err
}

func (b *Book) handOut(ctx context.Context, shelf, person, device string, lasts time.Duration) (string, error) {
	secret, err := b.secret()
	if err != nil {
		return "", err
	}
	kept := keptToken{Person: person, Device: device, Expires: b.terms.Now().Add(lasts).UnixMilli()}
	return secret, put(ctx, b.store, shelf, b.digest(shelf, secret), kept)
}

func (b *Book) redeem(ctx context.Context, shelf, secret string, sorry *fault.Error) (keptToken, Person, error) {
	kept, ok, err := get[keptToken](ctx, b.store, shelf, b.digest(shelf, secret))
	if err != nil {
		return kept, Person{}, err
	}
	if !ok || kept.Revoked != 0 || b.nowMS() >= kept.Expires {
		return kept, Person{}, sorry
	}
	p, err := b.Person(ctx, kept.Person)
	if err == nil && p.Left {
		err = sorry
	}
	return kept, p, err
}

// Refresh gives a new access token for a refresh token that still stands.
func (b *Book) Refresh(ctx context.Context, refresh string) (string, time.Duration, error) {
	sorry := fault.New(fault.Unauthenticated, "this device has to sign in again with a new code; what it holds stays on it and is handed in afterwards")
	kept, p, err := b.redeem(ctx, refreshShelf, refresh, sorry)
	if err != nil {
		return "", 0, err
	}
	if d, ok, err := get[Device](ctx, b.store, deviceShelf, kept.Device); err != nil {
		return "", 0, err
	} else if ok && d.Lost {
		return "", 0, sorry
	}
	access, err := b.sign(p, kept.Device)
	return access, b.terms.Access, err
}

// Revoke ends a refresh token. Ending one that is unknown changes nothing.
func (b *Book) Revoke(ctx context.Context, refresh string) error {
	return b.end(ctx, refreshShelf, refresh)
}

func (b *Book) end(ctx context.Context, shelf, secret string) error {
	name := b.digest(shelf, secret)
	if raw, err := b.store.Read(ctx, shelf, name); err != nil || raw == nil {
		return err
	}
	return edit(ctx, b.store, shelf, name, func(t *keptToken, _ bool) error {
		if t.Revoked == 0 {
			t.Revoked = b.nowMS()
		}
		return nil
	})
}

// OpenSession signs a person in at the desk and returns the key for the
// browser's cookie and how long it lasts.
func (b *Book) OpenSession(ctx context.Context, code string) (key string, lasts time.Duration, err error) {
	p, err := b.spend(ctx, code)
	if err != nil {
		return "", 0, err
	}
	key, err = b.handOut(ctx, sessionShelf, p.ID, "", b.terms.Sessions)
	return key, b.terms.Sessions, err
}

// Session returns who sits at the desk with that key.
func (b *Book) Session(ctx context.Context, key string) (Person, error) {
	_, p, err := b.redeem(ctx, sessionShelf, key, fault.New(fault.Unauthenticated, "please sign in again"))
	return p, err
}

// CloseSession signs out.
func (b *Book) CloseSession(ctx context.Context, key string) error {
	return b.end(ctx, sessionShelf, key)
}

// ValidDeviceID reports whether id is 16 bytes in base64url without padding.
func ValidDeviceID(id string) bool {
	raw, err := base64.RawURLEncoding.Strict().DecodeString(id)
	return err == nil && len(raw) == 16
}
