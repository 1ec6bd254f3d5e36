package proof

import (
	"bytes"
	"context"
	"io"
	"strings"
	"testing"

	"archive/zip"

	"wayfall/server/fault"
)

func sampleOf(t *testing.T, n int, seed string) (page, front string) {
	t.Helper()
	b, err := Open(context.Background(), Needs{Book: shelf(30), Office: shelf(30)}, Asked{Authority: "p", Sample: n, Seed: seed})
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	if err := b.Write(context.Background(), &out); err != nil {
		t.Fatal(err)
	}
	z, err := zip.NewReader(bytes.NewReader(out.Bytes()), int64(out.Len()))
	if err != nil {
		t.Fatal(err)
	}
	read := func(name string) string {
		f, err := z.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		data, err := io.ReadAll(f)
		if err != nil {
			t.Fatal(err)
		}
		return string(data)
	}
	return read("sample.html"), read("index.html")
}

func TestTheSameSeedDrawsTheSameSample(t *testing.T) {
	one, front := sampleOf(t, 8, "spring")
	if got := strings.Count(one, "animals/"); got != 8 || !strings.Contains(one, ">spring<") {
		t.Errorf("got %d animals, want 8 and the seed on the page", got)
	}
	if !strings.Contains(front, `href="sample.html"`) {
		t.Error("the front does not lead to the sample")
	}
	if again, _ := sampleOf(t, 8, "spring"); again != one {
		t.Error("the same seed drew another sample")
	}
	if other, _ := sampleOf(t, 8, "autumn"); strings.ReplaceAll(other, "autumn", "spring") == one {
		t.Error("another seed drew the same sample")
	}
	if all, _ := sampleOf(t, 99, "x"); strings.Count(all, "animals/") != 30 {
		t.Error("a sample of more than there are is not all of them")
	}
	for _, a := range []Asked{{Sample: -1, Seed: "x"}, {Sample: Most + 1, Seed: "x"}, {Sample: 3}} {
		a.Authority = "p"
		if _, err := Open(context.Background(), Needs{Book: shelf(1), Office: shelf(1)}, a); !fault.Is(err, fault.Invalid) {
			t.Errorf("%+v: got %v, want a refusal", a, err)
		}
	}
}
