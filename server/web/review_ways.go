package web

import (
	"net/url"

	"wayfall/server/intake"
)

// outlet is one lawful way on from what needs a look. Some can be done here;
// the others are said with whom to ask. None deletes, drops or hides anything.
type outlet struct {
	Text   string
	Ask    string // whom to ask, "" where it is done here
	Source string // what it rests on
	place  string // where it is done: amend, find, record, permits, or "" for nowhere here
}

// outletShown is an outlet with the address of its place.
type outletShown struct {
	outlet
	Path string
}

const practice = "common practice"

var (
	askAmend   = outlet{"Ask the issuing office to amend the paper; it then holds from the day it is signed, not before", "the issuing office", "50 CFR 13.1(a), 13.42", ""}
	enterAmend = outlet{"Enter the amendment once it is in hand, with the day from which it holds", "", "50 CFR 13.42", "amend"}
	disclose   = outlet{"Disclose it in the year’s report; such animals stand in a section of their own there", "the permit officer signs it", "50 CFR 13.46; " + practice, "year"}
	handOver   = outlet{"Offer the animal to the agency, and hand it over only as it directs", "the agency’s law enforcement or permit office", practice, ""}
	noteDone   = outlet{"Note the duties that are done, with whom was told and when", "", practice, "duties"}
	correct    = outlet{"If the animal was named wrongly, correct the name with the reason; the old name stays readable", "whoever examined it", practice, "record"}
	joinTwo    = outlet{"If two reports are of one carcass, join them; it then counts once", "", practice, "record"}
	landPaper  = outlet{"If written permission for the land was held that day, enter the paper with its own date", "the owner or manager of the ground", "50 CFR 13.21(a); " + practice, "papers"}
	askOfficer = outlet{"Ask before anything is moved, prepared or given away; what the officer says prevails", "the office named in the answer", practice, ""}
	askWhich   = outlet{"Ask which paper was meant", "whoever made the report", practice, ""}
	enterPaper = outlet{"Enter the paper with its own dates; one that was issued later does not cover an earlier day", "", "50 CFR 13.1(a)", "papers"}
	findOut    = outlet{"Find out what is missing and say it in the find; the rules then answer anew, beside the earlier answer", "whoever made the report", practice, "find"}
	whoUsed    = outlet{"Find out who used the device and tell the permit officer before relying on it", "the person to whom it was given", practice, ""}
)

// outlets are the lawful ways on for each code that is a breach or may be one.
// The record stays in every case: a record that is false or left out can be an
// offence of its own (16 U.S.C. 3372(d)).
var outlets = map[intake.Code][]outlet{
	intake.OverQuota:        {askAmend, enterAmend, disclose, handOver, correct, joinTwo, noteDone},
	intake.NotCovered:       {askOfficer, landPaper, disclose, handOver, correct, noteDone},
	intake.StopSpecies:      {askOfficer, handOver, correct, noteDone, disclose},
	intake.CallFirst:        {askOfficer, handOver, noteDone},
	intake.UnknownAuthority: {askWhich, enterPaper},
	intake.NeedsPerson:      {findOut, landPaper, askOfficer},
	intake.LostDevice:       {whoUsed},
}

// waysOn fills in where an item's outlets are done.
func waysOn(it intake.Item) []outletShown {
	var out []outletShown
	record := pathOf(it.Kind, it.Record)
	for _, o := range outlets[it.Code] {
		s := outletShown{outlet: o}
		paper := "/permits"
		if it.Paper != "" {
			paper += "/" + url.PathEscape(it.Paper)
		}
		switch o.place {
		case "amend":
			if s.Path = paper; it.Paper != "" {
				s.Path += "/amend"
			}
		case "year":
			s.Path = paper
		case "papers":
			s.Path = "/permits"
		case "duties", "find", "record":
			s.Path = record
		}
		out = append(out, s)
	}
	return out
}
