package seal

import (
	"fmt"

	"golang.org/x/mod/sumdb/tlog"
)

// TileHeight is by how many levels a kept tile rises: a full one holds 256
// hashes.
const TileHeight = 8

// Tile is a run of hashes of one level that are kept together. A tile that is
// not full is replaced by a wider one as the tree grows, and begins with the
// same hashes.
type Tile struct {
	Level, N int64
	Hashes   []byte // of tlog.HashSize bytes each
}

// Tiles reads kept tiles. It returns one of at least that many hashes, or an
// error.
type Tiles interface {
	Tile(level, n int64, width int) ([]byte, error)
}

// Reader reads single hashes out of tiles.
type Reader struct {
	Tiles Tiles

	last tlog.Tile
	data []byte
}

// ReadHashes implements tlog.HashReader.
func (r *Reader) ReadHashes(indexes []int64) ([]tlog.Hash, error) {
	all := make([]tlog.Hash, len(indexes))
	for i, x := range indexes {
		t := tlog.TileForIndex(TileHeight, x)
		if r.data == nil || r.last.L != t.L || r.last.N != t.N || r.last.W < t.W {
			data, err := r.Tiles.Tile(int64(t.L), t.N, t.W)
			if err != nil {
				return nil, err
			}
			r.last, r.data = t, data
			r.last.W = len(data) / tlog.HashSize
		}
		if r.last.W < t.W {
			return nil, fmt.Errorf("tile %d of level %d has %d hashes, not %d", t.N, t.L, r.last.W, t.W)
		}
		h, err := tlog.HashFromTile(t, r.data[:t.W*tlog.HashSize], x)
		if err != nil {
			return nil, err
		}
		all[i] = h
	}
	return all, nil
}

// Grow adds leaves behind the first size ones and returns the tiles to keep:
// those that are new and those that grew wider.
func Grow(size uint64, leaves []tlog.Hash, kept Tiles) ([]Tile, error) {
	g := growth{below: Reader{Tiles: kept}, fresh: map[int64]tlog.Hash{}}
	for i, leaf := range leaves {
		n := int64(size) + int64(i)
		hashes, err := tlog.StoredHashesForRecordHash(n, leaf, &g)
		if err != nil {
			return nil, err
		}
		at := tlog.StoredHashIndex(0, n)
		for j, h := range hashes {
			g.fresh[at+int64(j)] = h
		}
	}
	var out []Tile
	for _, t := range tlog.NewTiles(TileHeight, int64(size), int64(size)+int64(len(leaves))) {
		data, err := tlog.ReadTileData(t, &g)
		if err != nil {
			return nil, err
		}
		out = append(out, Tile{int64(t.L), t.N, data})
	}
	return out, nil
}

// growth reads hashes that were just made, and kept ones.
type growth struct {
	below Reader
	fresh map[int64]tlog.Hash
}

// ReadHashes implements tlog.HashReader.
func (g *growth) ReadHashes(indexes []int64) ([]tlog.Hash, error) {
	all := make([]tlog.Hash, len(indexes))
	for i, x := range indexes {
		h, ok := g.fresh[x]
		if !ok {
			one, err := g.below.ReadHashes(indexes[i : i+1])
			if err != nil {
				return nil, err
			}
			h = one[0]
		}
		all[i] = h
	}
	return all, nil
}
