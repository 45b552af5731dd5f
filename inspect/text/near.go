package text

import (
	"cmp"
	"slices"
	"strings"
)

// mostNear is how many near words are offered.
const mostNear = 3

// Near returns the words that something typed is near to, the nearest first: what it differs by from a part of them, in
// letters that are left out, put in, changed or swapped (optimal string alignment), is at most a third of it.
func Near(typed string, words []string) []string {
	type near struct {
		word string
		off  int
	}
	var all []near
	want := []rune(strings.ToLower(typed))
	for _, word := range words {
		if off := apart(want, []rune(strings.ToLower(word))); off <= max(1, len(want)/3) {
			all = append(all, near{word, off})
		}
	}
	slices.SortStableFunc(all, func(a, b near) int { return cmp.Compare(a.off, b.off) })
	var nearest []string
	for _, n := range all[:min(len(all), mostNear)] {
		nearest = append(nearest, n.word)
	}
	return nearest
}

// apart is how many slips what was typed is from the nearest part of a word.
func apart(typed, word []rune) int {
	before, last, now := make([]int, len(word)+1), make([]int, len(word)+1), make([]int, len(word)+1)
	for i := range typed {
		now[0] = i + 1
		for j := range word {
			same := 0
			if typed[i] != word[j] {
				same = 1
			}
			now[j+1] = min(last[j]+same, last[j+1]+1, now[j]+1)
			if i > 0 && j > 0 && typed[i] == word[j-1] && typed[i-1] == word[j] {
				now[j+1] = min(now[j+1], before[j-1]+1)
			}
		}
		before, last, now = last, now, before
	}
	return slices.Min(last)
}
