//go:build !soak

package server_test

// randomQuestions is few here, since the race detector makes pages slow.
const randomQuestions = 40
