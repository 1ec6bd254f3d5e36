package permits

// placeTexts are the names of the codes of ISO 3166-1 and 3166-2 for the
// countries of the sample packs and their neighbours, and for the states,
// provinces and territories of these, with the article that a sentence wants.
// Source: ISO 3166, from memory; the states of the United States are checked
// against the boundary file by a test.
var placeTexts = [][2]string{
	{"US", "the United States"}, {"CA", "Canada"}, {"MX", "Mexico"}, {"GB", "Great Britain"}, {"IE", "Ireland"},
	{"AU", "Australia"}, {"NZ", "New Zealand"},

	{"US-AL", "Alabama"}, {"US-AK", "Alaska"}, {"US-AZ", "Arizona"}, {"US-AR", "Arkansas"}, {"US-CA", "California"},
	{"US-CO", "Colorado"}, {"US-CT", "Connecticut"}, {"US-DE", "Delaware"}, {"US-DC", "the District of Columbia"},
	{"US-FL", "Florida"}, {"US-GA", "Georgia"}, {"US-HI", "Hawaii"}, {"US-ID", "Idaho"}, {"US-IL", "Illinois"},
	{"US-IN", "Indiana"}, {"US-IA", "Iowa"}, {"US-KS", "Kansas"}, {"US-KY", "Kentucky"}, {"US-LA", "Louisiana"},
	{"US-ME", "Maine"}, {"US-MD", "Maryland"}, {"US-MA", "Massachusetts"}, {"US-MI", "Michigan"}, {"US-MN", "Minnesota"},
	{"US-MS", "Mississippi"}, {"US-MO", "Missouri"}, {"US-MT", "Montana"}, {"US-NE", "Nebraska"}, {"US-NV", "Nevada"},
	{"US-NH", "New Hampshire"}, {"US-NJ", "New Jersey"}, {"US-NM", "New Mexico"}, {"US-NY", "New York"},
	{"US-NC", "North Carolina"}, {"US-ND", "North Dakota"}, {"US-OH", "Ohio"}, {"US-OK", "Oklahoma"}, {"US-OR", "Oregon"},
	{"US-PA", "Pennsylvania"}, {"US-RI", "Rhode Island"}, {"US-SC", "South Carolina"}, {"US-SD", "South Dakota"},
	{"US-TN", "Tennessee"}, {"US-TX", "Texas"}, {"US-UT", "Utah"}, {"US-VT", "Vermont"}, {"US-VA", "Virginia"},
	{"US-WA", "Washington"}, {"US-WV", "West Virginia"}, {"US-WI", "Wisconsin"}, {"US-WY", "Wyoming"},
	{"US-AS", "American Samoa"}, {"US-GU", "Guam"}, {"US-MP", "the Northern Mariana Islands"}, {"US-PR", "Puerto Rico"},
	{"US-VI", "the U.S. Virgin Islands"},

	{"CA-AB", "Alberta"}, {"CA-BC", "British Columbia"}, {"CA-MB", "Manitoba"}, {"CA-NB", "New Brunswick"},
	{"CA-NL", "Newfoundland and Labrador"}, {"CA-NS", "Nova Scotia"}, {"CA-NT", "the Northwest Territories"},
	{"CA-NU", "Nunavut"}, {"CA-ON", "Ontario"}, {"CA-PE", "Prince Edward Island"}, {"CA-QC", "Quebec"},
	{"CA-SK", "Saskatchewan"}, {"CA-YT", "Yukon"},

	{"GB-ENG", "England"}, {"GB-SCT", "Scotland"}, {"GB-WLS", "Wales"}, {"GB-NIR", "Northern Ireland"},

	{"AU-ACT", "the Australian Capital Territory"}, {"AU-NSW", "New South Wales"}, {"AU-NT", "the Northern Territory"},
	{"AU-QLD", "Queensland"}, {"AU-SA", "South Australia"}, {"AU-TAS", "Tasmania"}, {"AU-VIC", "Victoria"},
	{"AU-WA", "Western Australia"},
}
