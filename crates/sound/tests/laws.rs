//! Levels, pan and pitch of the rendered samples match the standard.

mod common;

use common::Player;

const NOTE: [u8; 3] = [0x90, 60, 127];

/// 40 log10(v/127) dB for each of volume and expression, added. General MIDI Level 1 Developer
/// Guidelines, 2nd revision (MMA 1998).
#[test]
fn volume_and_expression_follow_the_law() {
    let mut player = Player::new();
    player.send(&[0xB0, 7, 127]);
    player.send(&NOTE);
    let (full, _) = player.levels();
    // 500 Hz, amplitude 32000/32768, at the centre.
    assert!((full - 20.0 * (32_000.0f64 / 32_768.0).log10() + 6.02).abs() < 0.05, "{full}");
    for (volume, expression) in
        [(127, 100), (100, 127), (64, 127), (127, 64), (32, 127), (100, 64), (20, 127), (127, 8)]
    {
        player.send(&[0xB0, 7, volume]);
        player.send(&[0xB0, 11, expression]);
        let law = |v: u8| 40.0 * (f64::from(v) / 127.0).log10();
        let (left, right) = player.levels();
        let expected = law(volume) + law(expression);
        assert!((left - full - expected).abs() < 0.1, "{volume} {expression}: {left} {expected}");
        assert!((left - right).abs() < 0.01);
    }
    player.send(&[0xB0, 7, 0]);
    assert!(player.levels().0 < -200.0);
}

/// A ramp of 128 volumes is as smooth as possible: no sample steps further than the tone itself.
#[test]
fn a_ramp_of_volume_rises_without_a_step() {
    let mut player = Player::new();
    player.send(&[0xB0, 7, 127]);
    player.send(&NOTE);
    player.play_ms(50);
    let own = common::measure::step(&player.play_ms(50).0);
    let mut last = -300.0;
    let mut sound = Vec::new();
    for volume in 0..128 {
        player.send(&[0xB0, 7, volume]);
        sound.extend(player.play_ms(20).0);
        let level = common::measure::db(&sound[sound.len() - 480..]);
        assert!(volume < 3 || level > last, "{volume}: {level} {last}");
        last = level;
    }
    assert!(common::measure::step(&sound[4800..]) <= own * 1.001);
    // A jump from full to nothing does not pop either.
    player.send(&[0xB0, 7, 0]);
    let fall = player.play_ms(50).0;
    assert!(common::measure::step(&fall) <= own * 1.05);
    assert!(common::measure::db(&fall[2000..]) < -100.0);
}

/// RP-036 (MMA): left 20 log10 cos(π/2 · max(0, v − 1)/126), right the same with sin.
#[test]
fn a_sweep_of_pan_follows_the_law() {
    let mut player = Player::new();
    player.send(&NOTE);
    player.send(&[0xB0, 10, 0]);
    let (hard, silent) = player.levels();
    assert!(silent < -200.0, "{silent}");
    for pan in 0..128u8 {
        player.send(&[0xB0, 10, pan]);
        let (left, right) = player.levels();
        let angle = f64::from(pan.saturating_sub(1)) / 126.0 * std::f64::consts::FRAC_PI_2;
        for (side, expected) in [(left, angle.cos()), (right, angle.sin())] {
            let expected = 20.0 * expected.log10();
            if expected > -40.0 {
                assert!((side - hard - expected).abs() < 0.1, "{pan}: {side} {expected}");
            } else {
                assert!(side - hard < -39.0, "{pan}: {side}");
            }
        }
    }
}

/// A program that the font pans halfway to the right starts from there (SoundFont Technical
/// Specification 2.01, section 8.1.2, number 17).
#[test]
fn pan_adds_to_the_pan_of_the_font() {
    let mut player = Player::new();
    player.send(&[0xC0, 2]);
    player.send(&NOTE);
    let (left, right) = player.levels();
    let angle = 0.75 * std::f64::consts::FRAC_PI_2;
    assert!((right - left - 20.0 * angle.tan().log10()).abs() < 0.1, "{left} {right}");
}

/// MIDI 1.0 Detailed Specification, pitch bend and registered parameter 0: two semitones each way
/// unless set, 8192 in the middle; data entry coarse in semitones, fine in cents.
#[test]
fn bends_reach_as_far_as_their_range() {
    let mut player = Player::new();
    player.send(&NOTE);
    assert!(player.cents().abs() < 0.5);
    player.send(&[0xE0, 0x7F, 0x7F]);
    assert!((player.cents() - 200.0).abs() < 0.5);
    player.send(&[0xE0, 0, 0]);
    assert!((player.cents() + 200.0).abs() < 0.5);
    for message in [[101, 0], [100, 0], [6, 12], [38, 0], [101, 127], [100, 127], [6, 5]] {
        player.send(&[0xB0, message[0], message[1]]);
    }
    assert!((player.cents() + 1200.0).abs() < 0.5);
    player.send(&[0xE0, 0x7F, 0x7F]);
    assert!((player.cents() - 1200.0).abs() < 0.5);
    player.send(&[0xE0, 0, 0x60]);
    assert!((player.cents() - 600.0).abs() < 0.5);
    // 2 semitones and 50 cents.
    for message in [[101, 0], [100, 0], [6, 2], [38, 50]] {
        player.send(&[0xB0, message[0], message[1]]);
    }
    assert!((player.cents() - 125.0).abs() < 0.5);
}

/// MIDI 1.0 Detailed Specification, registered parameters 1 (fine tuning, ±100 cents) and 2
/// (coarse tuning, semitones); an unknown parameter changes nothing.
#[test]
fn tuning_moves_the_pitch() {
    let mut player = Player::new();
    player.send(&NOTE);
    for message in [[101, 0], [100, 1], [6, 0x60], [38, 0]] {
        player.send(&[0xB0, message[0], message[1]]);
    }
    assert!((player.cents() - 50.0).abs() < 0.5);
    for message in [[101, 0], [100, 2], [6, 61]] {
        player.send(&[0xB0, message[0], message[1]]);
    }
    assert!((player.cents() + 250.0).abs() < 0.5);
    for message in [[99, 0], [98, 2], [6, 90], [101, 3], [100, 2], [6, 90]] {
        player.send(&[0xB0, message[0], message[1]]);
    }
    assert!((player.cents() + 250.0).abs() < 0.5);
}

/// SoundFont Technical Specification 2.01, sections 8.4.5 and 8.4.6: modulation wheel and channel
/// pressure add a vibrato of up to 50 cents. Here key pressure has the same effect.
#[test]
fn pressure_and_the_wheel_add_vibrato() {
    let wheel: &[u8] = &[0xB0, 1, 127];
    for message in [wheel, &[0xD0, 127], &[0xA0, 60, 127]] {
        let mut player = Player::new();
        player.send(&NOTE);
        let (lowest, highest) = wander(&player.play_ms(1000).0);
        assert!(highest < 1.0 && lowest > -1.0);
        player.send(message);
        let (lowest, highest) = wander(&player.play_ms(1000).0);
        assert!((40.0..=51.0).contains(&highest), "{message:?} {highest}");
        assert!((-51.0..=-40.0).contains(&lowest), "{message:?} {lowest}");
        // Releasing the key ends its pressure; a reset ends the others.
        player.send(&[0x80, 60, 0]);
        player.send(&[0xB0, 121, 0]);
        player.play_ms(100);
        player.send(&NOTE);
        let (lowest, highest) = wander(&player.play_ms(1000).0);
        assert!(highest < 1.0 && lowest > -1.0, "{message:?}");
    }
}

/// The lowest and highest pitch in cents, measured over every four periods.
fn wander(sound: &[f32]) -> (f64, f64) {
    let rising = sound.windows(2).enumerate().filter(|(_, pair)| pair[0] < 0.0 && pair[1] >= 0.0);
    let crossings: Vec<f64> =
        rising.map(|(i, p)| i as f64 + f64::from(p[0] / (p[0] - p[1]))).collect();
    let cents = crossings.windows(5).map(|c| 1200.0 * (4.0 * 96.0 / (c[4] - c[0])).log2());
    cents.fold((0.0, 0.0), |(low, high): (f64, f64), c| (low.min(c), high.max(c)))
}

/// The sends reach the effects: with them, sound remains after the note; without them, none does.
#[test]
fn sends_feed_reverb_and_chorus() {
    let tail = |reverb: u8, chorus: u8| {
        let mut player = Player::new();
        player.send(&[0xB0, 91, reverb]);
        player.send(&[0xB0, 93, chorus]);
        player.send(&NOTE);
        let (left, _) = player.play_ms(300);
        player.send(&[0x80, 60, 0]);
        player.play_ms(20);
        (common::measure::db(&left[4800..]), common::measure::db(&player.play_ms(50).0))
    };
    let (_, dry) = tail(0, 0);
    let (_, some) = tail(64, 0);
    let (_, much) = tail(127, 0);
    assert!(dry < -100.0 && some > -70.0, "{dry} {some}");
    assert!((much - some - 20.0 * (127.0f64 / 64.0).log10()).abs() < 0.5, "{much} {some}");
    let (alone, _) = tail(0, 0);
    let (doubled, _) = tail(0, 127);
    assert!((alone - doubled).abs() > 0.3, "{alone} {doubled}");
}
