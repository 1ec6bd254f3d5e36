package people

import (
	"context"
	"fmt"
	"strings"

	"wayfall/server/fault"
)

// prefixLetters leave out what handwriting mixes up: I, O, 0 and 1.
const prefixLetters = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"

func (b *Book) mayEnrol(claim DeviceClaim) error {
	if !ValidDeviceID(claim.ID) {
		return fault.New(fault.Invalid, "a device's id is 16 bytes written as 22 characters of base64url")
	}
	if len(claim.Name) > 120 {
		return fault.New(fault.Invalid, "a device's name has at most 120 bytes")
	}
	return nil
}

// enrol gives the device to the person, or finds that it already is theirs.
func (b *Book) enrol(ctx context.Context, p Person, claim DeviceClaim) (Device, error) {
	d, known, err := get[Device](ctx, b.store, deviceShelf, claim.ID)
	if err != nil {
		return Device{}, err
	}
	prefix := d.Prefix
	if !known {
		if prefix, err = b.takePrefix(ctx, claim.ID); err != nil {
			return Device{}, err
		}
	}
	err = edit(ctx, b.store, deviceShelf, claim.ID, func(kept *Device, exists bool) error {
		if !exists {
			*kept = Device{ID: claim.ID, Person: p.ID, Name: claim.Name, Prefix: prefix, Enrolled: b.nowMS()}
		}
		if kept.Person != p.ID {
			return fault.New(fault.Stale, "this device is somebody else's; another person on it starts with a device id of its own")
		}
		if kept.Lost {
			return fault.New(fault.Stale, "this device was declared lost; a found device starts with a new id")
		}
		if strings.TrimSpace(claim.Name) != "" {
			kept.Name = claim.Name
		}
		d = *kept
		return nil
	})
	return d, err
}

// takePrefix finds three letters that no device had before.
func (b *Book) takePrefix(ctx context.Context, device string) (string, error) {
	for range 200 {
		prefix, err := b.draw(prefixLetters, 3)
		if err != nil {
			return "", err
		}
		taken := false
		err = edit(ctx, b.store, prefixShelf, prefix, func(owner *string, exists bool) error {
			if taken = exists && *owner != device; !taken {
				*owner = device
			}
			return nil
		})
		if err != nil || !taken {
			return prefix, err
		}
	}
	return "", fmt.Errorf("no tag prefix is left for device %s", device)
}

// Prefix returns the tag prefix of a device that nobody carries, such as the
// server itself; it is given out when first asked for.
func (b *Book) Prefix(ctx context.Context, id string) (string, error) {
	kept, ok, err := get[string](ctx, b.store, ownShelf, id)
	if err != nil || ok {
		return kept, err
	}
	drawn, err := b.takePrefix(ctx, id)
	if err != nil {
		return "", err
	}
	err = edit(ctx, b.store, ownShelf, id, func(p *string, exists bool) error {
		if !exists {
			*p = drawn
		}
		drawn = *p
		return nil
	})
	return drawn, err
}

// Device returns the device of that id, and whether it is enrolled.
func (b *Book) Device(ctx context.Context, id string) (Device, bool, error) {
	return get[Device](ctx, b.store, deviceShelf, id)
}

// Devices returns all devices by id.
func (b *Book) Devices(ctx context.Context) ([]Device, error) {
	return list(ctx, b.store, deviceShelf, func(d Device) string { return d.ID })
}

// DeclareLost marks a device as lost: its refresh tokens end, and operations
// it still hands in are kept but wait for a person.
func (b *Book) DeclareLost(ctx context.Context, id string) error {
	return edit(ctx, b.store, deviceShelf, id, func(d *Device, exists bool) error {
		if !exists {
			return fault.New(fault.Missing, "no device of that id is enrolled")
		}
		d.Lost = true
		return nil
	})
}
