"""Writes a Standard MIDI File with mido, an independent writer, and prints its content.

In: the path to write, the format (0 or 1) and the ticks per quarter note. Out: the file, and the
lines that read_midi.py prints for it. The music follows a simple rule: a line of notes, chords that
overlap, and a drum part, over three bars of 4/4 and two of 6/8.
"""

import sys

import mido
from read_midi import lines_of


def in_order(moments):
    """A track of these messages. Each is given with its tick; a track counts from message to message."""
    track = mido.MidiTrack()
    now = 0
    for tick, message in sorted(moments, key=lambda moment: moment[0]):
        track.append(message.copy(time=tick - now))
        now = tick
    return track


def notes(channel, struck):
    """The presses and releases of notes, which are given as (start, length, key, velocity)."""
    for start, length, key, velocity in struck:
        note = {"channel": channel, "note": key}
        yield start, mido.Message("note_on", velocity=velocity, **note)
        yield start + length, mido.Message("note_off", velocity=40, **note)


def guide(ppq):
    bar = 4 * ppq
    return [
        (0, mido.MetaMessage("track_name", name="Five bars")),
        (0, mido.MetaMessage("time_signature", numerator=4, denominator=4)),
        (0, mido.MetaMessage("key_signature", key="Eb")),
        (0, mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(93.7))),
        (bar + ppq // 3, mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(120))),
        (
            3 * bar,
            mido.MetaMessage(
                "time_signature", numerator=6, denominator=8, clocks_per_click=36
            ),
        ),
        (3 * bar, mido.MetaMessage("marker", text="six eight")),
    ]


def line(ppq):
    yield 0, mido.MetaMessage("track_name", name="Line")
    yield 0, mido.Message("program_change", channel=0, program=73)
    step = ppq // 3
    struck = [(k * step, step * 2 - k % 5, 60 + k * 7 % 24, 40 + k * 11 % 80) for k in range(48)]
    yield from notes(0, struck)
    for k in range(30):
        yield k * ppq // 7, mido.Message("pitchwheel", channel=0, pitch=k * 500 - 8192)


def chords(ppq):
    yield 0, mido.MetaMessage("track_name", name="Chords")
    struck = [
        (bar * 2 * ppq + key % 3, 2 * ppq - 7, key, 64 + bar)
        for bar in range(7)
        for key in (48, 52 + bar % 2, 55, 59)
    ]
    yield from notes(4, struck)
    for bar in range(7):
        yield bar * 2 * ppq + 5, mido.Message("control_change", channel=4, control=64, value=127)
        yield bar * 2 * ppq + ppq, mido.Message("control_change", channel=4, control=64, value=0)
    yield ppq, mido.Message("sysex", data=(0x7E, 0x7F, 0x09, 0x01))


def drums(ppq):
    yield 0, mido.MetaMessage("track_name", name="Drums")
    sixteenth = ppq // 4
    struck = [
        (max(0, k * sixteenth + k * 3 % 7 - 3), 10, (36, 42, 38, 42)[k % 4], 30 + k * 5 % 90)
        for k in range(64)
    ]
    yield from notes(9, struck)


def main(path, kind, ppq):
    midi = mido.MidiFile(type=kind, ticks_per_beat=ppq)
    parts = [list(guide(ppq)), list(line(ppq)), list(chords(ppq)), list(drums(ppq))]
    if kind == 0:
        named = lambda message: message.type == "track_name"
        rest = [moment for part in parts[1:] for moment in part if not named(moment[1])]
        parts = [parts[0] + rest]
    midi.tracks.extend(in_order(part) for part in parts)
    midi.save(path)


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
    print("\n".join(lines_of(sys.argv[1])))
