"""Writes how music21 spells the scales of all key signatures, one a line: sharps (flats negative), mode, names.

The minor scales are the harmonic ones. Kept in crates/harmony/tests/data/scales.txt; needs music21, which the
tests do not install:

    python spell_scales.py > scales.txt
"""

from music21 import key, scale

for sharps in range(-7, 8):
    for mode in ("major", "minor"):
        tonic = key.KeySignature(sharps).asKey(mode).tonic
        steps = scale.MajorScale(tonic) if mode == "major" else scale.HarmonicMinorScale(tonic)
        names = [pitch.name.replace("-", "b") for pitch in steps.pitches[:7]]
        print(sharps, mode, *names)
