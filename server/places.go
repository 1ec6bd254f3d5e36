package server

import "wayfall/permits/screen/find"

// Places works out where things lay, with the lines and towns this server has.
func (s *Server) Places() find.Map { return find.Map{Lines: s.lines, Names: s.names} }
