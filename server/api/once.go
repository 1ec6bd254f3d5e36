package api

import (
	"encoding/json"
	"net/http"
	"sync"

	"github.com/labstack/echo/v4"
)

// keyed lets one request with a key through at a time.
type keyed struct {
	mu   sync.Mutex
	held map[string]*keyLock
}

type keyLock struct {
	sync.Mutex
	waiting int
}

func (k *keyed) lock(name string) (unlock func()) {
	k.mu.Lock()
	if k.held == nil {
		k.held = map[string]*keyLock{}
	}
	l := k.held[name]
	if l == nil {
		l = &keyLock{}
		k.held[name] = l
	}
	l.waiting++
	k.mu.Unlock()
	l.Lock()
	return func() {
		l.Unlock()
		k.mu.Lock()
		defer k.mu.Unlock()
		if l.waiting--; l.waiting == 0 {
			delete(k.held, name)
		}
	}
}

// answered is what was answered to a request with a key.
type answered struct {
	Digest string          `json:"digest"` // of the request's body
	Answer json.RawMessage `json:"answer"`
}

const answerShelf = "answer to a key"

// once does what a request asks at most once for a person and a key, and
// answers a repetition as it answered before. The same key with another body
// is a mistake of the caller's and changes nothing.
func (a *API) once(c echo.Context, key string, body []byte, do func() (any, error)) (out []byte, again bool, err error) {
	ctx := c.Request().Context()
	name := digestOf([]byte(who(c).Person.ID + "\x00" + c.Path() + "\x00" + key))
	defer a.keys.lock(name)()
	kept, err := a.Answers.Read(ctx, answerShelf, name)
	if err != nil {
		return nil, false, err
	}
	if kept != nil {
		var old answered
		if err := json.Unmarshal(kept, &old); err != nil {
			return nil, false, err
		}
		if old.Digest != digestOf(body) {
			return nil, false, problem(http.StatusConflict, "key_used", "this Idempotency-Key came before with another body; nothing was kept of this request, so choose a new key for it")
		}
		return old.Answer, true, nil
	}
	v, err := do()
	if err != nil {
		return nil, false, err
	}
	if out, err = json.Marshal(v); err != nil {
		return nil, false, err
	}
	paper, err := json.Marshal(answered{digestOf(body), out})
	if err != nil {
		return nil, false, err
	}
	return out, false, a.Answers.Change(ctx, answerShelf, name, func([]byte) ([]byte, error) { return paper, nil })
}
