//go:build soak

package server_test

const randomQuestions = 500
