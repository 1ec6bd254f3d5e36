// Package georeference joins what a locality says with named features and
// reckons where it may have been: point, circle, shape, the terms that made the
// radius, and a sentence for each.
//
// It promises that under the strict protocol every place which the words allow
// lies in the circle, that nothing is taken silently (an assumption is a flag
// with its reason), and that words it did not understand are handed back. It
// never picks one of several features of a name: each is a candidate of its
// own. It reads no files and asks no network.
package georeference
