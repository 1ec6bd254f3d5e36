package people_test

import (
	"bytes"
	"context"
	"encoding/base64"
	"math/rand"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/golang-jwt/jwt/v5"

	"wayfall/server/fault"
	"wayfall/server/people"
	"wayfall/server/peopletest"
)

var (
	key   = []byte("a key of thirty-two bytes or more.")
	start = time.Date(2025, 10, 3, 14, 0, 0, 0, time.UTC)
)

type clock struct{ at time.Time }

func (c *clock) now() time.Time { return c.at }

func open(t *testing.T) (*people.Book, *clock, *people.Memory) {
	t.Helper()
	c, m := &clock{at: start}, &people.Memory{}
	b, err := people.Open(m, people.Terms{Issuer: "wayfall.example", Key: key, Now: c.now, Chance: &chance{r: rand.New(rand.NewSource(1))}})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range []people.Person{
		{ID: "cal", Name: "Cal Whitlock", Institution: "sablewater", Roles: []people.Role{people.Salvager}},
		{ID: "gwen", Name: "Gwendolyn Stasik", Institution: "sablewater", Roles: []people.Role{people.Registrar, people.Reader}},
	} {
		if err := b.Keep(t.Context(), p); err != nil {
			t.Fatal(err)
		}
	}
	return b, c, m
}

type chance struct {
	mu sync.Mutex
	r  *rand.Rand
}

func (c *chance) Read(p []byte) (int, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.r.Read(p)
}

func dev(n byte) string {
	return base64.RawURLEncoding.EncodeToString(bytes.Repeat([]byte{n}, 16))
}

func code(t *testing.T, b *people.Book, person string, terms people.CodeTerms) string {
	t.Helper()
	c, err := b.IssueCode(t.Context(), person, terms)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestMemoryKeepsItsPromises(t *testing.T) {
	peopletest.Run(t, func(*testing.T) people.Store { return &people.Memory{} })
}

func TestACodeSignsInOnce(t *testing.T) {
	b, c, _ := open(t)
	word := code(t, b, "cal", people.CodeTerms{Lasts: time.Hour})
	got, err := b.SignIn(t.Context(), strings.ToLower(word[:5]+"-"+word[5:]), &people.DeviceClaim{ID: dev(1), Name: "Cal's phone"})
	if err != nil {
		t.Fatal(err)
	}
	if got.Person.ID != "cal" || got.Device.Person != "cal" || len(got.Device.Prefix) != 3 || got.Refresh == "" {
		t.Errorf("got %+v, want Cal with a device, a prefix of 3 letters and a refresh token", got)
	}
	if _, err := b.SignIn(t.Context(), word, nil); !fault.Is(err, fault.Unauthenticated) {
		t.Errorf("the second use got %v, want unauthenticated", err)
	}
	late := code(t, b, "cal", people.CodeTerms{Lasts: time.Hour})
	c.at = c.at.Add(time.Hour)
	if _, err := b.SignIn(t.Context(), late, nil); !fault.Is(err, fault.Unauthenticated) {
		t.Errorf("a code past its time got %v, want unauthenticated", err)
	}
}

func TestACodeUsedByManyAtOnceLetsOneIn(t *testing.T) {
	b, _, _ := open(t)
	word := code(t, b, "cal", people.CodeTerms{Lasts: time.Hour})
	var in, out int
	var mu sync.Mutex
	var all sync.WaitGroup
	for range 8 {
		all.Go(func() {
			_, err := b.SignIn(context.Background(), word, nil)
			mu.Lock()
			defer mu.Unlock()
			if err == nil {
				in++
			} else {
				out++
			}
		})
	}
	all.Wait()
	if in != 1 || out != 7 {
		t.Errorf("got %d let in and %d refused, want 1 and 7", in, out)
	}
}

func TestADemoCodeWorksAgainUntilItExpires(t *testing.T) {
	b, c, _ := open(t)
	code(t, b, "cal", people.CodeTerms{Text: "DEMO-CAL", Lasts: time.Hour, Reusable: true})
	for n := range 3 {
		if _, err := b.SignIn(t.Context(), "demo cal", nil); err != nil {
			t.Errorf("use %d: %v", n+1, err)
		}
	}
	c.at = c.at.Add(2 * time.Hour)
	if _, err := b.SignIn(t.Context(), "DEMO-CAL", nil); err == nil {
		t.Error("an expired demo code still works")
	}
}

func TestNoSecretRestsReadable(t *testing.T) {
	b, _, m := open(t)
	word := code(t, b, "cal", people.CodeTerms{Lasts: time.Hour})
	in, err := b.SignIn(t.Context(), word, &people.DeviceClaim{ID: dev(1)})
	if err != nil {
		t.Fatal(err)
	}
	session, _, err := b.OpenSession(t.Context(), code(t, b, "gwen", people.CodeTerms{Lasts: time.Hour}))
	if err != nil {
		t.Fatal(err)
	}
	looked := 0
	for _, shelf := range []string{"person", "sign-in code", "device", "tag prefix", "refresh token", "desk session"} {
		papers, _ := m.List(t.Context(), shelf)
		for name, text := range papers {
			looked++
			for _, secret := range []string{word, in.Refresh, session} {
				if strings.Contains(name, secret) || bytes.Contains(text, []byte(secret)) {
					t.Errorf("shelf %s holds a secret as it is", shelf)
				}
			}
		}
	}
	if looked < 7 {
		t.Errorf("looked at %d papers, want at least 7", looked)
	}
}

func TestADeviceBelongsToOnePerson(t *testing.T) {
	b, _, _ := open(t)
	first, err := b.SignIn(t.Context(), code(t, b, "cal", people.CodeTerms{Lasts: time.Hour}), &people.DeviceClaim{ID: dev(1)})
	if err != nil {
		t.Fatal(err)
	}
	again, err := b.SignIn(t.Context(), code(t, b, "cal", people.CodeTerms{Lasts: time.Hour}), &people.DeviceClaim{ID: dev(1)})
	if err != nil || again.Device.Prefix != first.Device.Prefix {
		t.Errorf("the same person again got %+v and %v, want the same prefix %s", again.Device, err, first.Device.Prefix)
	}
	_, err = b.SignIn(t.Context(), code(t, b, "gwen", people.CodeTerms{Lasts: time.Hour}), &people.DeviceClaim{ID: dev(1)})
	if !fault.Is(err, fault.Stale) {
		t.Errorf("somebody else got %v, want stale", err)
	}
	_, err = b.SignIn(t.Context(), code(t, b, "gwen", people.CodeTerms{Lasts: time.Hour}), &people.DeviceClaim{ID: "short"})
	if !fault.Is(err, fault.Invalid) {
		t.Errorf("a malformed id got %v, want invalid", err)
	}
}

func TestEveryDeviceHasItsOwnPrefix(t *testing.T) {
	b, _, _ := open(t)
	code(t, b, "cal", people.CodeTerms{Text: "MANY", Lasts: time.Hour, Reusable: true})
	owner := map[string]byte{}
	for n := range byte(60) {
		in, err := b.SignIn(t.Context(), "MANY", &people.DeviceClaim{ID: dev(n)})
		if err != nil {
			t.Fatal(err)
		}
		if before, taken := owner[in.Device.Prefix]; taken {
			t.Errorf("devices %d and %d both got prefix %s", before, n, in.Device.Prefix)
		}
		owner[in.Device.Prefix] = n
	}
}

func TestRefreshLastsUntilRevokedOrLost(t *testing.T) {
	b, c, _ := open(t)
	code(t, b, "cal", people.CodeTerms{Text: "MANY", Lasts: time.Hour, Reusable: true})
	one, _ := b.SignIn(t.Context(), "MANY", &people.DeviceClaim{ID: dev(1)})
	two, _ := b.SignIn(t.Context(), "MANY", &people.DeviceClaim{ID: dev(2)})
	c.at = c.at.Add(300 * 24 * time.Hour)
	access, lasts, err := b.Refresh(t.Context(), one.Refresh)
	if err != nil || lasts != 15*time.Minute {
		t.Fatalf("after 300 days got %v and %v, want 15 minutes", lasts, err)
	}
	proof, err := b.Check(access)
	if err != nil || proof.Person.ID != "cal" || proof.Device != dev(1) || !proof.Person.May(people.Salvager) || proof.Person.May(people.Registrar) {
		t.Errorf("got %+v and %v, want Cal the salvager on device 1", proof, err)
	}
	if err := b.Revoke(t.Context(), one.Refresh); err != nil {
		t.Fatal(err)
	}
	if _, _, err := b.Refresh(t.Context(), one.Refresh); !fault.Is(err, fault.Unauthenticated) {
		t.Errorf("a revoked token got %v, want unauthenticated", err)
	}
	if err := b.DeclareLost(t.Context(), dev(2)); err != nil {
		t.Fatal(err)
	}
	if _, _, err := b.Refresh(t.Context(), two.Refresh); !fault.Is(err, fault.Unauthenticated) {
		t.Errorf("a lost device got %v, want unauthenticated", err)
	}
	if _, _, err := b.Refresh(t.Context(), "made up"); !fault.Is(err, fault.Unauthenticated) {
		t.Errorf("a made-up token got %v, want unauthenticated", err)
	}
}

func TestADeskSessionEndsWithSignOut(t *testing.T) {
	b, c, _ := open(t)
	keyWord, lasts, err := b.OpenSession(t.Context(), code(t, b, "gwen", people.CodeTerms{Lasts: time.Hour}))
	if err != nil || lasts != 12*time.Hour {
		t.Fatalf("got %v and %v, want 12 hours", lasts, err)
	}
	if p, err := b.Session(t.Context(), keyWord); err != nil || p.ID != "gwen" {
		t.Errorf("got %+v and %v, want Gwendolyn", p, err)
	}
	if err := b.CloseSession(t.Context(), keyWord); err != nil {
		t.Fatal(err)
	}
	if _, err := b.Session(t.Context(), keyWord); !fault.Is(err, fault.Unauthenticated) {
		t.Errorf("after signing out got %v, want unauthenticated", err)
	}
	other, _, _ := b.OpenSession(t.Context(), code(t, b, "gwen", people.CodeTerms{Lasts: time.Hour}))
	c.at = c.at.Add(12 * time.Hour)
	if _, err := b.Session(t.Context(), other); !fault.Is(err, fault.Unauthenticated) {
		t.Errorf("after 12 hours got %v, want unauthenticated", err)
	}
}

func TestSomebodyWhoLeftCannotSignIn(t *testing.T) {
	b, _, _ := open(t)
	word := code(t, b, "cal", people.CodeTerms{Lasts: time.Hour})
	if err := b.Keep(t.Context(), people.Person{ID: "cal", Name: "Cal Whitlock", Left: true}); err != nil {
		t.Fatal(err)
	}
	if _, err := b.SignIn(t.Context(), word, nil); !fault.Is(err, fault.Unauthenticated) {
		t.Errorf("got %v, want unauthenticated", err)
	}
}

// forge makes a token that differs from a good one in one way.
func forge(t *testing.T, method jwt.SigningMethod, with any, change func(jwt.MapClaims)) string {
	t.Helper()
	c := jwt.MapClaims{"iss": "wayfall.example", "aud": "wayfall.example", "sub": "gwen",
		"iat": start.Unix(), "exp": start.Add(time.Minute).Unix(), "roles": []string{"registrar"}}
	change(c)
	s, err := jwt.NewWithClaims(method, c).SignedString(with)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestOnlyOurOwnTokensProveAnything(t *testing.T) {
	b, _, _ := open(t)
	same := func(jwt.MapClaims) {}
	if p, err := b.Check(forge(t, jwt.SigningMethodHS256, key, same)); err != nil || p.Person.ID != "gwen" {
		t.Fatalf("the untouched token got %+v and %v; the rows below would prove nothing", p, err)
	}
	good := forge(t, jwt.SigningMethodHS256, key, same)
	for _, c := range []struct{ name, token string }{
		{"signed with another key", forge(t, jwt.SigningMethodHS256, []byte("another key of thirty-two bytes."), same)},
		{"algorithm none", forge(t, jwt.SigningMethodNone, jwt.UnsafeAllowNoneSignatureType, same)},
		{"another HMAC with our key", forge(t, jwt.SigningMethodHS512, key, same)},
		{"run out", forge(t, jwt.SigningMethodHS256, key, func(c jwt.MapClaims) { c["exp"] = start.Add(-time.Second).Unix() })},
		{"without an end", forge(t, jwt.SigningMethodHS256, key, func(c jwt.MapClaims) { delete(c, "exp") })},
		{"from another issuer", forge(t, jwt.SigningMethodHS256, key, func(c jwt.MapClaims) { c["iss"] = "elsewhere" })},
		{"for another audience", forge(t, jwt.SigningMethodHS256, key, func(c jwt.MapClaims) { c["aud"] = "elsewhere" })},
		{"without an audience", forge(t, jwt.SigningMethodHS256, key, func(c jwt.MapClaims) { delete(c, "aud") })},
		{"made in the future", forge(t, jwt.SigningMethodHS256, key, func(c jwt.MapClaims) { c["iat"] = start.Add(time.Hour).Unix() })},
		{"for nobody", forge(t, jwt.SigningMethodHS256, key, func(c jwt.MapClaims) { delete(c, "sub") })},
		{"cut short", good[:len(good)-4]},
		{"empty", ""},
	} {
		if _, err := b.Check(c.token); !fault.Is(err, fault.Unauthenticated) {
			t.Errorf("a token %s: got %v, want unauthenticated", c.name, err)
		}
	}
}

func TestAShortKeyIsRefused(t *testing.T) {
	_, err := people.Open(&people.Memory{}, people.Terms{Issuer: "x", Key: []byte("short"), Now: time.Now, Chance: &chance{}})
	if err == nil {
		t.Error("a key of 5 bytes was accepted, want at least 32")
	}
}
