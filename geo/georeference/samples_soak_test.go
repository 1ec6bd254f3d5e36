//go:build soak

package georeference_test

const (
	// samples is how many truths are tried for each form.
	samples = 100_000
	// restarts and rounds say how long the farthest truth is sought.
	restarts, rounds = 40, 40
	hardLimit        = 1.001
)
