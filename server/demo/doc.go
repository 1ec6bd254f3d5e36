// Package demo pours the invented scenario through the HTTP interface, just as
// phones, a permit officer and a registrar would: every find is an operation
// of a device of its own, pushed over the network, and every later step goes
// through the same requests that the pages make.
//
// It promises that nothing reaches the store by a back door. It decides
// nothing: what comes out is what the server made of it.
package demo
