"""Prints what mido, an independent reader, finds in a Standard MIDI File.

In: the path of a file. Out: lines of words and numbers. Ticks are the file's own, and channels are
counted from 1:

    format F ppq P tracks N
    name TRACK TEXT
    note TRACK CHANNEL KEY VELOCITY START LENGTH
    sent TRACK TICK WHAT...
    tempo TICK MICROSECONDS
    metre TICK COUNT UNIT CLOCKS
    key TICK NAME
    marker TICK TEXT
    end TRACK TICK
    held TRACK            if a note of the track has no end
    lasts MICROSECONDS    how long the file plays, rounded
"""

import sys

import mido


def lines_of_track(number, track):
    """The lines of one track. A release ends the oldest press of its key."""
    now = 0
    down = {}
    for message in track:
        now += message.time
        if message.type == "note_on" and message.velocity > 0:
            down.setdefault((message.channel, message.note), []).append((now, message.velocity))
        elif message.type in ("note_on", "note_off"):
            start, velocity = down[(message.channel, message.note)].pop(0)
            yield f"note {number} {message.channel + 1} {message.note} {velocity} {start} {now - start}"
        elif message.type == "track_name":
            yield f"name {number} {message.name}"
        elif message.type == "set_tempo":
            yield f"tempo {now} {message.tempo}"
        elif message.type == "time_signature":
            clocks = message.clocks_per_click
            yield f"metre {now} {message.numerator} {message.denominator} {clocks}"
        elif message.type == "key_signature":
            yield f"key {now} {message.key}"
        elif message.type == "marker":
            yield f"marker {now} {message.text}"
        elif message.type == "end_of_track":
            yield f"end {number} {now}"
        elif not message.is_meta:
            yield f"sent {number} {now} {' '.join(f'{byte:02X}' for byte in message.bytes())}"
    if any(down.values()):
        yield f"held {number}"


def lines_of(path):
    midi = mido.MidiFile(path)
    yield f"format {midi.type} ppq {midi.ticks_per_beat} tracks {len(midi.tracks)}"
    for number, track in enumerate(midi.tracks, start=1):
        yield from lines_of_track(number, track)
    yield f"lasts {round(midi.length * 1_000_000)}"


if __name__ == "__main__":
    print("\n".join(lines_of(sys.argv[1])))
