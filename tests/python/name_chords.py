"""Writes the names that music21 gives to chords, one line a chord: its keys, lowest first, and the name.

Every triad, seventh and ninth of the list, on every root, in every inversion, close. Kept in
crates/harmony/tests/data/chord_names.txt; needs music21, which the tests do not install:

    python name_chords.py > chord_names.txt
"""

from music21 import chord, harmony, pitch

# The intervals above the root, as in any handbook of harmony.
KINDS = [
    ["M3", "P5"],
    ["m3", "P5"],
    ["m3", "d5"],
    ["M3", "P5", "m7"],
    ["M3", "P5", "M7"],
    ["m3", "P5", "m7"],
    ["m3", "d5", "m7"],
    ["m3", "P5", "M7"],
    ["M3", "P5", "m7", "M9"],
    ["M3", "P5", "M7", "M9"],
    ["m3", "P5", "m7", "M9"],
]
ROOTS = ["C", "C#", "D", "E-", "E", "F", "F#", "G", "G#", "A", "B-", "B"]

for root in ROOTS:
    for intervals in KINDS:
        lowest = pitch.Pitch(root + "3")
        pitches = [lowest] + [lowest.transpose(interval) for interval in intervals]
        for _ in pitches:
            sound = chord.Chord(pitches)
            print(*[each.midi for each in pitches], harmony.chordSymbolFigureFromChord(sound))
            up = pitches.pop(0)
            while up.midi <= pitches[-1].midi:
                up = up.transpose("P8")
            pitches.append(up)
