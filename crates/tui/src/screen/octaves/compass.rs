//! Where the sounds of General MIDI usually play.
//!
//! In: the number of a program. Out: its usual keys. Common practice, no source; a test compares them with
//! published compasses.

/// The first and last number of a run of programs (General MIDI System Level 1, RP-003, "General MIDI Sound
/// Set"), and the lowest and highest key that they usually sound.
type Run = (u8, u8, u8, u8);

const USUAL: [Run; 54] = [
    // Pianos; celesta, glockenspiel, music box, vibraphone, marimba, xylophone, tubular bells, dulcimer.
    (1, 8, 48, 84),
    (9, 9, 60, 96),
    (10, 10, 79, 108),
    (11, 11, 65, 89),
    (12, 12, 53, 89),
    (13, 13, 48, 84),
    (14, 14, 65, 108),
    (15, 15, 60, 77),
    (16, 16, 48, 84),
    // Organs, accordions; harmonica.
    (17, 22, 48, 84),
    (23, 23, 60, 96),
    (24, 24, 53, 89),
    // Guitars; basses.
    (25, 32, 40, 67),
    (33, 40, 28, 55),
    // Violin, viola, cello, contrabass, strings together, harp, timpani.
    (41, 41, 55, 88),
    (42, 42, 48, 79),
    (43, 43, 36, 67),
    (44, 44, 28, 55),
    (45, 47, 48, 84),
    (48, 48, 38, 60),
    // Ensembles and voices.
    (49, 56, 48, 79),
    // Trumpets, trombone, tuba, horn, brass together.
    (57, 57, 54, 82),
    (58, 58, 40, 67),
    (59, 59, 28, 55),
    (60, 60, 54, 82),
    (61, 61, 41, 77),
    (62, 64, 48, 79),
    // Soprano, alto, tenor and baritone sax.
    (65, 65, 58, 86),
    (66, 66, 49, 80),
    (67, 67, 44, 75),
    (68, 68, 37, 66),
    // Oboe, English horn, bassoon, clarinet.
    (69, 69, 58, 88),
    (70, 70, 52, 78),
    (71, 71, 34, 67),
    (72, 72, 50, 86),
    // Piccolo, flute, recorder, pan flute, bottle, shakuhachi, whistle, ocarina.
    (73, 73, 74, 105),
    (74, 74, 60, 93),
    (75, 75, 65, 91),
    (76, 76, 65, 93),
    (77, 78, 62, 93),
    (79, 79, 66, 93),
    (80, 80, 66, 89),
    // Leads, pads and effects.
    (81, 104, 48, 84),
    // Sitar, banjo, shamisen, koto, kalimba, bagpipe, fiddle, shanai.
    (105, 108, 48, 79),
    (109, 109, 60, 88),
    (110, 110, 66, 82),
    (111, 111, 55, 88),
    (112, 112, 60, 84),
    // Bells and steel drums; wood and metal; drums that are tuned; noises.
    (113, 113, 66, 96),
    (114, 114, 60, 84),
    (115, 115, 60, 88),
    (116, 116, 60, 84),
    (117, 119, 36, 67),
    (120, 128, 48, 84),
];

/// The lowest and the highest key that a program usually sounds; its number is from 1 to 128.
pub fn usual(number: u8) -> (u8, u8) {
    let run = USUAL.iter().find(|(first, last, ..)| (*first..=*last).contains(&number));
    run.map_or((48, 84), |&(_, _, low, high)| (low, high))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_program_is_there_once_and_in_order() {
        let mut next = 1;
        for (first, last, low, high) in USUAL {
            assert_eq!(first, next);
            assert!(first <= last && low + 12 < high, "{first}");
            next = last + 1;
        }
        assert_eq!(next, 129);
    }
}
