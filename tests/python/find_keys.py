"""Writes the keys that music21 finds in the first 300 chorales of its corpus, one line each: the name of the
piece, how long each pitch class sounds from C up (in 96ths of a quarter note), the key, and its correlation.

Kept in crates/harmony/tests/data/corpus_keys.txt; needs music21, which the tests do not install:

    python find_keys.py > corpus_keys.txt
"""

from fractions import Fraction

from music21 import analysis, corpus

finder = analysis.discrete.KrumhanslKessler()
written = 0
for path in sorted(corpus.getComposer("bach"), key=str):
    if written == 300 or path.suffix != ".mxl":
        continue
    score = corpus.parse(path)
    totals = [Fraction(0)] * 12
    for note in score.flatten().notes:
        for pitch in note.pitches:
            totals[pitch.pitchClass] += Fraction(note.quarterLength)
    key, mode, correlation = finder.process(score)[0]
    marks = [total * 96 for total in totals]
    if any(mark.denominator != 1 for mark in marks):
        continue
    name = key.name.replace("-", "b")
    print(path.stem, *marks, name, mode, f"{correlation:.4f}", flush=True)
    written += 1
