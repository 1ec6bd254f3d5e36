package demo

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
)

// Client speaks to a server's interface for programs as one person.
type Client struct {
	Base   string // "http://127.0.0.1:8470"
	HTTP   *http.Client
	Access string
}

// Problem is an answer that is not a success, after RFC 9457.
type Problem struct {
	Status int    `json:"status"`
	Title  string `json:"title"`
	Detail string `json:"detail"`
	Errors []struct {
		Pointer string `json:"pointer"`
		Detail  string `json:"detail"`
	} `json:"errors"`
}

// Error returns the sentence.
func (p *Problem) Error() string {
	said := fmt.Sprintf("%d %s: %s", p.Status, p.Title, p.Detail)
	for _, e := range p.Errors {
		said += "; " + e.Pointer + " " + e.Detail
	}
	return said
}

// Do sends in as JSON and reads the answer into out; either may be nil.
func (c *Client) Do(ctx context.Context, method, path string, in, out any) error {
	var body io.Reader
	if in != nil {
		b, err := json.Marshal(in)
		if err != nil {
			return err
		}
		body = bytes.NewReader(b)
	}
	req, err := http.NewRequestWithContext(ctx, method, c.Base+path, body)
	if err != nil {
		return err
	}
	if in != nil {
		req.Header.Set("Content-Type", "application/json")
	}
	answer, err := c.send(req)
	if err != nil {
		return fmt.Errorf("%s %s: %w", method, path, err)
	}
	if out == nil {
		return nil
	}
	return json.Unmarshal(answer, out)
}

// Get returns the body of an answer as it came.
func (c *Client) Get(ctx context.Context, path string) ([]byte, error) {
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, c.Base+path, nil)
	if err != nil {
		return nil, err
	}
	return c.send(req)
}

func (c *Client) send(req *http.Request) ([]byte, error) {
	if c.Access != "" {
		req.Header.Set("Authorization", "Bearer "+c.Access)
	}
	resp, err := c.HTTP.Do(req)
	if err != nil {
		return nil, err
	}
	defer resp.Body.Close()
	answer, err := io.ReadAll(io.LimitReader(resp.Body, 64<<20))
	if err != nil {
		return nil, err
	}
	if resp.StatusCode >= 400 {
		p := &Problem{Status: resp.StatusCode, Title: http.StatusText(resp.StatusCode)}
		_ = json.Unmarshal(answer, p)
		return nil, p
	}
	return answer, nil
}
