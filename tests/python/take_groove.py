"""Takes the groove of the notes in a Standard MIDI File, with mido and numpy.

In: the path of a file in 4/4, the number of steps of a bar, the number of bars of the groove. Out: a line
for each step: BAR STEP TIMING TIMING_SPREAD LOUDNESS LOUDNESS_SPREAD, with ticks of 960 to the quarter.

A stroke belongs to the nearest step, or to the later of two; in each bar the loudest stroke of a step speaks
for it, the latest of several; the step has the median over the bars, rounded half up.
"""

import sys

import mido
import numpy

BAR = 3840


def strokes(path):
    """The start in ticks, and the velocity, of every note."""
    midi = mido.MidiFile(path)
    for track in midi.tracks:
        now = 0
        for message in track:
            now += message.time
            if message.type == "note_on" and message.velocity > 0:
                yield now * 960 // midi.ticks_per_beat, message.velocity


def half_up(number):
    return int(numpy.floor(number + 0.5))


def middle(numbers):
    """The median, and the median distance from it."""
    median = half_up(numpy.median(numbers))
    return median, half_up(numpy.median(numpy.abs(numpy.array(numbers) - median)))


def main(path, steps, bars):
    grid = BAR // steps
    loudest = {}
    for start, velocity in strokes(path):
        place = half_up(start / grid)
        loudest[place] = max(loudest.get(place, (0, 0)), (velocity, start))
    mean = numpy.mean([velocity for velocity, _ in loudest.values()])
    heard = {}
    for place, (velocity, start) in loudest.items():
        bar, step = divmod(place, steps)
        late = start - place * grid
        heard.setdefault((bar % bars, step), []).append((late, half_up(100 * velocity / mean)))
    for (bar, step), leans in sorted(heard.items()):
        timing, loudness = zip(*leans)
        print(bar + 1, step + 1, *middle(timing), *middle(loudness))


main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
