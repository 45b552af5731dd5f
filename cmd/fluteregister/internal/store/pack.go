package store

import (
	"bytes"
	"compress/flate"
	"context"
	"fmt"
	"io"
	"time"

	"github.com/jackc/pgx/v5"

	"flutelog/inspect/ledger"
)

// Lines that are old are kept by flate (RFC 1951) with a dictionary of lines like them: each by itself, so that one is read
// without the others.

// dictionaryAtMost is how much of a dictionary flate looks back to.
const dictionaryAtMost = 32 << 10

// plain returns a line as it was taken.
func (s *Store) plain(ctx context.Context, codec int16, raw []byte) ([]byte, error) {
	if codec == 0 {
		return raw, nil
	}
	text, err := s.dictionary(ctx, codec)
	if err != nil {
		return nil, err
	}
	return inflate(text, raw)
}

func inflate(dictionary, packed []byte) ([]byte, error) {
	r := flate.NewReaderDict(bytes.NewReader(packed), dictionary)
	plain, err := io.ReadAll(io.LimitReader(r, ledger.MaxLine+1))
	if err != nil {
		return packed, nil // it is no line, which whoever reads it finds
	}
	return plain, nil
}

// dictionary returns one that lines were compressed with. It is asked for on a connection of its own, since the asker's may
// be giving lines.
func (s *Store) dictionary(ctx context.Context, codec int16) ([]byte, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if text, ok := s.dictionaries[codec]; ok {
		return text, nil
	}
	var text []byte
	if err := s.pool.QueryRow(ctx, "select text from dictionary where codec = $1", codec).Scan(&text); err != nil {
		return nil, fmt.Errorf("dictionary %d: %w", codec, err)
	}
	if s.dictionaries == nil {
		s.dictionaries = map[int16][]byte{}
	}
	s.dictionaries[codec] = text
	return text, nil
}

// Packed is what Pack did.
type Packed struct {
	Lines       int
	Plain, Kept int64 // bytes before and after
}

// Pack compresses the lines that were taken before a time. It needs the right to change lines, which the register does not
// have while it serves.
func (s *Store) Pack(ctx context.Context, before time.Time) (p Packed, err error) {
	c, err := s.pool.Acquire(ctx)
	if err != nil {
		return p, down(err)
	}
	defer func() {
		c.Conn().Close(context.WithoutCancel(ctx)) // it must not go on with more rights than the others
		c.Release()
	}()
	if _, err := c.Exec(ctx, "reset role"); err != nil {
		return p, down(err)
	}
	codec, text, err := s.packer(ctx, c, before)
	if err != nil || codec == 0 {
		return p, down(err)
	}
	z, err := flate.NewWriterDict(nil, flate.BestCompression, text)
	if err != nil {
		return p, err
	}
	bench, seq := "", int64(0)
	for {
		rows, err := c.Query(ctx, "select "+lineColumns+" from line where (bench, seq) > ($1, $2) and codec = 0 and arrived < $3 order by bench, seq limit $4", bench, seq, before, chunk)
		if err != nil {
			return p, down(err)
		}
		lines, err := pgx.CollectRows(rows, pgx.RowToStructByPos[rawLine])
		if err != nil {
			return p, down(err)
		}
		if len(lines) == 0 {
			break
		}
		b := &pgx.Batch{}
		for _, l := range lines {
			bench, seq = l.Bench, l.Seq
			var packed bytes.Buffer
			z.Reset(&packed)
			if _, err := z.Write(l.Raw); err != nil {
				return p, err
			}
			if err := z.Close(); err != nil {
				return p, err
			}
			if again, err := inflate(text, packed.Bytes()); err != nil || !bytes.Equal(again, l.Raw) {
				return p, fmt.Errorf("line %d of bench %s does not come back as it was", l.Seq, l.Bench)
			}
			p.Lines, p.Plain, p.Kept = p.Lines+1, p.Plain+int64(len(l.Raw)), p.Kept+int64(packed.Len())
			b.Queue("update line set raw = $3, codec = $4 where bench = $1 and seq = $2 and codec = 0", l.Bench, l.Seq, packed.Bytes(), codec)
		}
		if err := c.SendBatch(ctx, b).Close(); err != nil {
			return p, down(err)
		}
	}
	_, err = c.Exec(ctx, "vacuum line")
	return p, down(err)
}

// packer returns the newest dictionary; where there is none it is made of lines of each kind, those that fill the most last;
// 0 where there is no line to be packed.
func (s *Store) packer(ctx context.Context, q querier, before time.Time) (codec int16, text []byte, err error) {
	rows, err := q.Query(ctx, "select codec, text from dictionary order by codec desc limit 1")
	if err != nil {
		return 0, nil, err
	}
	found, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (text []byte, err error) {
		err = row.Scan(&codec, &text)
		return text, err
	})
	if err != nil || len(found) > 0 {
		return codec, bytes.Join(found, nil), err
	}
	rows, err = q.Query(ctx, `select raw from (select raw, row_number() over (partition by kind order by utc desc) as n, sum(octet_length(raw)) over (partition by kind) as filled
		from line where arrived < $1 and octet_length(raw) < 32768) as sample where n <= 4 order by filled, n desc`, before)
	if err != nil {
		return 0, nil, err
	}
	sample, err := pgx.CollectRows(rows, pgx.RowTo[[]byte])
	if text = bytes.Join(sample, nil); err != nil || len(text) == 0 {
		return 0, nil, err
	}
	text = text[max(0, len(text)-dictionaryAtMost):]
	_, err = q.Exec(ctx, "insert into dictionary (codec, text) values (1, $1)", text)
	return 1, text, err
}
