package people

import (
	"errors"
	"time"

	"github.com/golang-jwt/jwt/v5"

	"wayfall/server/fault"
)

// Proof is what an access token proves.
type Proof struct {
	Person Person
	Device string // "" when the token was given without a device
	Until  time.Time
}

type claims struct {
	jwt.RegisteredClaims
	Name        string `json:"name"`
	Roles       []Role `json:"roles"`
	Institution string `json:"inst"`
	Device      string `json:"dev,omitempty"`
}

// sign makes an access token. The roles travel in it, so a change of roles is
// felt when the token ends.
func (b *Book) sign(p Person, device string) (string, error) {
	now := b.terms.Now()
	c := claims{
		RegisteredClaims: jwt.RegisteredClaims{
			Issuer: b.terms.Issuer, Audience: jwt.ClaimStrings{b.terms.Issuer}, Subject: p.ID,
			IssuedAt: jwt.NewNumericDate(now), ExpiresAt: jwt.NewNumericDate(now.Add(b.terms.Access)),
		},
		Name: p.Name, Roles: p.Roles, Institution: p.Institution, Device: device,
	}
	return jwt.NewWithClaims(jwt.SigningMethodHS256, c).SignedString(b.terms.Key)
}

// Check returns what an access token proves, or a fault that says why it
// proves nothing.
func (b *Book) Check(access string) (Proof, error) {
	var c claims
	_, err := jwt.ParseWithClaims(access, &c,
		func(*jwt.Token) (any, error) { return b.terms.Key, nil },
		jwt.WithValidMethods([]string{jwt.SigningMethodHS256.Alg()}),
		jwt.WithIssuer(b.terms.Issuer), jwt.WithAudience(b.terms.Issuer),
		jwt.WithExpirationRequired(), jwt.WithIssuedAt(), jwt.WithTimeFunc(b.terms.Now))
	switch {
	case errors.Is(err, jwt.ErrTokenExpired):
		return Proof{}, fault.New(fault.Unauthenticated, "the access token has run out; get a new one with the refresh token")
	case err != nil:
		return Proof{}, fault.New(fault.Unauthenticated, "the access token was not made by this server or does not fit it")
	case c.Subject == "":
		return Proof{}, fault.New(fault.Unauthenticated, "the access token names nobody")
	}
	p := Person{ID: c.Subject, Name: c.Name, Institution: c.Institution, Roles: c.Roles}
	return Proof{Person: p, Device: c.Device, Until: c.ExpiresAt.Time}, nil
}
