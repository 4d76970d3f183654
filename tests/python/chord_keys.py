"""Writes the chords that music21 builds on roman numerals in all keys, one key a line: sharps (flats negative), mode,
how many tones, then twelve chords from C up as they lie on chord keys, each as its pitch classes, the root first.

White keys are the degrees, in minor with the raised leading note in the chord on the fifth. Black keys are the
dominant sevenths of the degree above; of a diminished degree the flat seventh (major) or the flat second (minor).
Kept in crates/harmony/tests/data/chord_keys.txt; needs music21, which the tests do not install:

    python chord_keys.py > chord_keys.txt
"""

from music21 import key, roman

MAJOR = ["I", "V7/ii", "ii", "V7/iii", "iii", "IV", "V7/V", "V", "V7/vi", "vi", "bVII", "viio"]
MINOR = ["i", "bII", "iio", "V7/III", "III", "iv", "V7/v", "V", "V7/VI", "VI", "V7/VII", "VII"]
# With the seventh of the scale, as figures of figured bass have it.
SEVENTH = {"viio": "viiø7", "iio": "iiø7"}


def figure(numeral, tones):
    is_degree = not numeral.startswith("b") and "/" not in numeral
    if tones == 3 or not is_degree:
        return numeral
    return SEVENTH.get(numeral, numeral + "7")


for sharps in range(-7, 8):
    for mode, numerals in (("major", MAJOR), ("minor", MINOR)):
        tonic = key.KeySignature(sharps).asKey(mode)
        for tones in (3, 4):
            chords = []
            for numeral in numerals:
                chord = roman.RomanNumeral(
                    figure(numeral, tones), tonic, seventhMinor=roman.Minor67Default.CAUTIONARY
                )
                root = chord.root().pitchClass
                rest = sorted({pitch.pitchClass for pitch in chord.pitches} - {root})
                chords.append(",".join(str(pitch) for pitch in [root, *rest]))
            print(sharps, mode, tones, *chords)
