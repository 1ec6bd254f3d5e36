package people_test

import (
	"bytes"
	"context"
	"fmt"
	"time"

	"wayfall/server/people"
)

func ExampleBook_SignIn() {
	ctx, chance := context.Background(), bytes.NewReader(bytes.Repeat([]byte{7}, 1000)) // never do this outside an example
	book, err := people.Open(&people.Memory{}, people.Terms{Issuer: "wayfall.example", Key: make([]byte, 32), Chance: chance,
		Now: func() time.Time { return time.Date(2025, 10, 3, 14, 0, 0, 0, time.UTC) }})
	if err != nil {
		fmt.Println(err)
		return
	}
	_ = book.Keep(ctx, people.Person{ID: "cal", Name: "Cal Whitlock", Roles: []people.Role{people.Salvager}})
	code, _ := book.IssueCode(ctx, "cal", people.CodeTerms{Lasts: time.Hour})
	in, err := book.SignIn(ctx, code, nil)
	fmt.Println(in.Person.Name, in.ExpiresIn, err)
	_, err = book.SignIn(ctx, code, nil)
	fmt.Println(err)
	// Output:
	// Cal Whitlock 15m0s <nil>
	// this code does not work; ask for a new one
}
