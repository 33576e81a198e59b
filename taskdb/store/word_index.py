"""Which states of waypoints are found by which word: collected over many rows, so that each word is written once.

Knows no tables and no SQL.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby, repeat
from operator import itemgetter

from taskdb.core.names import fold_all, german_words

_MANY = 1 << 16
"""From so many words on, loading numpy has paid when they are sorted."""
_STATE_BITS = 32
"""For a state's number above the lowest one."""
_END = "\n"
"""Stands behind the words of each name, and is in no word."""


class _Numbers(dict[str, int]):
    """The number of each different word; a new word gets the next one."""

    def __missing__(self, word: str) -> int:
        number = self[word] = len(self)
        return number


class _German(dict[str, Sequence[str]]):
    """The further words of a part of a name, found out once."""

    def __missing__(self, part: str) -> Sequence[str]:
        further = self[part] = german_words(part)
        return further


class WordIndex:
    """Words with the states that they find.

    The words of a state, each once, are those of its name in both foldings, and of its code only where that folds to
    several: a code of one word is found by its own folded column, which saves a quarter of all words.
    """

    def __init__(self) -> None:
        self._numbers = _Numbers({_END: 0})
        self._german = _German()
        self._states = array("q")
        self._words = array("I")
        """The words of the states' names by their numbers, a 0 behind those of each state."""
        self._further, self._further_states = array("I"), array("q")
        """Other words, each beside a state that it finds."""

    @property
    def count(self) -> int:
        """How many words there are of all states, or more."""
        return len(self._words) + len(self._further) - len(self._states)

    @property
    def different(self) -> int:
        """How many different words there are."""
        return len(self._numbers) - 1

    def add(self, ids: Sequence[int], names: Sequence[str], codes: Sequence[str]) -> None:
        """Take the words of states."""
        self.add_folded(ids, names, fold_all(names), fold_all(codes))

    def add_folded(
        self, ids: Sequence[int], names: Sequence[str], names_folded: Sequence[str], codes_folded: Sequence[str]
    ) -> None:
        """Do what `add` does where names and codes have been folded already."""
        if not ids:
            return
        words = f" {_END} ".join(names_folded).split(" ")
        if "" in words:
            words = list(filter(None, words))
        words.append(_END)
        self._words.extend(list(map(self._numbers.__getitem__, words)))
        self._states.extend(ids)
        german, numbers = self._german, self._numbers
        foreign = [(number, name) for number, name in zip(ids, names, strict=True) if not name.isascii()]
        for number, name in foreign:
            for part in name.split():
                for word in () if part.isascii() else german[part]:
                    self._further.append(numbers[word])
                    self._further_states.append(number)
        if " " in "".join(codes_folded):
            for number, code in zip(ids, codes_folded, strict=True):
                for word in code.split() if " " in code else ():
                    self._further.append(numbers[word])
                    self._further_states.append(number)

    def states_of_words(self) -> Iterator[tuple[str, list[int]]]:
        """Yield every word, in order, with the states that it finds, rising, each once."""
        if self.count >= _MANY:
            yield from self._sorted_by_numpy()
            return
        words = list(self._numbers)
        pairs = {(words[number], state) for number, state in zip(self._further, self._further_states, strict=True)}
        at = 0
        for number in self._words:
            if number == 0:
                at += 1
            else:
                pairs.add((words[number], self._states[at]))
        for word, found in groupby(sorted(pairs), key=itemgetter(0)):
            yield word, [state for _, state in found]

    def _sorted_by_numpy(self) -> Iterator[tuple[str, list[int]]]:
        """Do the same: each pair becomes one number, the word's place among all words above the state's bits."""
        import numpy as np

        words = sorted(self._numbers.keys() - {_END})
        places = np.zeros(len(self._numbers), dtype=np.int64)
        places[[self._numbers[word] for word in words]] = np.arange(len(words))
        numbers = np.frombuffer(self._words, dtype=np.uintc)
        is_word = numbers != 0
        states = np.frombuffer(self._states, dtype=np.int64)
        owners = states[np.cumsum(~is_word, dtype=np.int32)[is_word]]
        further = np.frombuffer(self._further, dtype=np.uintc)
        pairs = places[np.concatenate((numbers[is_word], further))] << _STATE_BITS
        lowest = states.min()
        pairs |= np.concatenate((owners, np.frombuffer(self._further_states, dtype=np.int64))) - lowest
        pairs.sort()
        pairs = pairs[np.append(True, pairs[1:] != pairs[:-1])]
        ends = np.searchsorted(pairs, np.arange(1, len(words) + 1) << _STATE_BITS).tolist()
        pairs &= (1 << _STATE_BITS) - 1
        pairs += lowest
        for word, start, end in zip(words, [0, *ends[:-1]], ends, strict=True):
            yield word, pairs[start:end].tolist()

    def pairs(self) -> Iterator[tuple[str, int]]:
        """Yield every word with every state, in order of both: the order in which the table keeps them."""
        for word, states in self.states_of_words():
            yield from zip(repeat(word), states)


def words_of(name: str, code: str) -> Iterable[str]:
    """Return the words, each once, that are kept for finding a waypoint: see WordIndex."""
    index = WordIndex()
    index.add((0,), (name,), (code,))
    return [word for word, _ in index.states_of_words()]
