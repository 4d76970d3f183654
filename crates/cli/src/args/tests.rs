//! Reading whole command lines.

use super::*;
use clap::CommandFactory;

fn parse(line: &str) -> Result<Job, clap::Error> {
    let words = line.split(' ').filter(|word| !word.is_empty());
    Args::try_parse_from(std::iter::once("chaconne").chain(words)).map(|args| args.job)
}

fn error(line: &str) -> String {
    parse(line).unwrap_err().to_string()
}

#[test]
fn the_arguments_are_consistent_and_every_command_has_an_example() {
    Args::command().debug_assert();
    for job in Args::command().get_subcommands() {
        let help = job.get_after_help().map(ToString::to_string).unwrap_or_default();
        let example = format!("Example:\n  chaconne {}", job.get_name());
        assert!(help.starts_with(&example), "{}: {help}", job.get_name());
    }
}

#[test]
fn a_new_song_is_four_bars_of_common_time_at_120_by_default() {
    let Ok(Job::New(new)) = parse("new a.ron") else { panic!() };
    assert_eq!((new.bars, new.tempo, new.metre), (4, Tempo::DEFAULT, "4/4".into()));
    let Ok(Job::New(new)) = parse("new a.ron --bars 999 --tempo 93.7 --metre 7/8") else {
        panic!()
    };
    assert_eq!((new.bars, new.tempo.to_string().as_str()), (999, "93.7"));
    assert!(error("new a.ron --bars 1000").contains("from 1 to 999"));
    assert!(error("new a.ron --tempo 5").contains("outside 10 to 1000 quarter notes per minute"));
    let sentence = "'fast' for '--tempo <TEMPO>': use a number from 10 to 1000";
    assert!(error("new a.ron --tempo fast").contains(sentence));
    assert!(error("new a.ron --metre 4/3").contains("1 to 64 beats over 1, 2, 4, 8, 16 or 32"));
}

#[test]
fn ports_can_be_given_more_than_once_and_named() {
    let line = "sketch --out midi:Synth --out low=bytes:pipe --in none --clock --play";
    let Ok(Job::Sketch(sketch)) = parse(line) else { panic!() };
    let names: Vec<&str> = sketch.wires.out.iter().map(|out| out.name.as_str()).collect();
    assert_eq!(names, ["", "low"]);
    assert_eq!(sketch.wires.inputs, [In::plain(chaconne_rig::PortSpec::None)]);
    assert!(sketch.play && sketch.wires.clock && sketch.song.is_none());
    assert!(
        error("sketch --out synth").contains("use midi:NAME, jack:NAME, bytes:PATH, sound or none")
    );
    assert!(error("sketch --light --dark").contains("cannot be used with"));
    assert!(error("sketch --tour --no-tour").contains("cannot be used with"));
    let sentence = "invalid value 'dvorak' for '--keyboard <KEYBOARD>': use us, de or fr";
    assert!(error("sketch --keyboard dvorak").contains(sentence));
}

#[test]
fn a_pedal_can_tap_the_tempo() {
    let Ok(Job::Rehearse(rehearse)) = parse("rehearse a.ron --in none --tap cc:64") else {
        panic!()
    };
    assert_eq!(rehearse.controls.tap.map(|tap| tap.to_string()), Some("cc:64".to_string()));
    assert!(parse("sketch --in none --tap note:36@10").is_ok());
    assert!(error("sketch --in none --tap pedal").contains("': write note:KEY or cc:NUMBER"));
    assert!(error("sketch --tap cc:64").contains("--in"));
}

#[test]
fn lay_reads_its_options_and_refuses_wrong_ones() {
    let line = "lay a.ron --track Bass --section B --from t.mid --keep one --mode punch";
    let Ok(Job::Lay(lay)) = parse(line) else { panic!() };
    assert_eq!((lay.keep, lay.mode, lay.rounds), (KeepRounds::One, LayMode::Punch, 0));
    assert_eq!(lay.section.map(|letter| letter.to_string()), Some("B".to_string()));
    assert!(parse("lay a.ron --track T --from t.mid --real-time --rounds 2").is_ok());
    assert!(error("lay a.ron --track T --from t.mid --rounds 2").contains("--real-time"));
    assert!(error("lay a.ron --from t.mid").contains("--track"));
    assert!(error("lay a.ron --track T --from t --section 2").contains("one to three capitals"));
    assert!(error("lay a.ron --track T --from t --grid 1/5").contains("1/1 to 1/64"));
}

#[test]
fn every_command_reads_a_section_letter_in_either_case() {
    for line in [
        "export a.ron --midi a.mid",
        "list a.ron",
        "rehearse a.ron",
        "bounce a.ron a.wav",
        "lay a.ron --track T --from t.mid",
    ] {
        let section = match parse(&format!("{line} --section ab")) {
            Ok(Job::Export(export)) => export.section,
            Ok(Job::List(list)) => list.section,
            Ok(Job::Rehearse(rehearse)) => rehearse.section,
            Ok(Job::Bounce(bounce)) => bounce.section,
            Ok(Job::Lay(lay)) => lay.section,
            other => panic!("{other:?}"),
        };
        assert_eq!(section.map(|letter| letter.to_string()).as_deref(), Some("AB"), "{line}");
    }
}

#[test]
fn a_bounce_has_cd_format_by_default() {
    let Ok(Job::Bounce(bounce)) = parse("bounce a.ron a.wav") else { panic!() };
    assert_eq!((bounce.rate, bounce.bits, bounce.looped), (44_100, BitsOfSample::Sixteen, false));
    let line = "bounce a.ron a.wav --loop --section B --tracks Bass,Kit --rate 48000 --bits 32f \
                --loudness -16";
    let Ok(Job::Bounce(bounce)) = parse(line) else { panic!() };
    assert_eq!((bounce.rate, bounce.bits, bounce.looped), (48_000, BitsOfSample::Float, true));
    assert_eq!((bounce.tracks.join("+").as_str(), bounce.loudness), ("Bass,Kit", Some(-16.0)));
    assert!(error("bounce a.ron a.wav --loop --tail 3").contains("cannot be used with"));
    assert!(error("bounce a.ron a.wav --form --section A").contains("cannot be used with"));
    assert!(error("bounce a.ron a.wav --rate 22050").contains("44100 or 48000"));
    assert!(error("bounce a.ron a.wav --tail NaN").contains("from 0 to 600"));
    assert!(error("bounce a.ron a.wav --loudness 3").contains("-60 to -5"));
}

#[test]
fn timing_measures_the_machine_or_a_cable() {
    let Ok(Job::Timing(timing)) = parse("timing") else { panic!() };
    assert_eq!((timing.seconds, timing.load, timing.loopback.len()), (10, false, 0));
    let Ok(Job::Timing(timing)) = parse("timing --loopback midi:A bytes:b --count 9") else {
        panic!()
    };
    let ports: Vec<String> = timing.loopback.iter().map(PortSpec::to_string).collect();
    assert_eq!((ports.join(" ").as_str(), timing.count), ("midi:A bytes:b", 9));
    assert!(error("timing --seconds 3601").contains("from 1 to 3600"));
    assert!(error("timing --loopback none").contains("2 values required"));
    assert!(error("timing --loopback none none --load").contains("cannot be used with"));
    assert!(error("timing --count 3").contains("--loopback"));
}

#[test]
fn check_accepts_a_limit_for_lateness() {
    let Ok(Job::Check(songs)) = parse("check a.ron b.ron --late 8") else { panic!() };
    assert_eq!((songs.songs.len(), songs.late), (2, Some(8)));
    assert!(error("check a.ron --late 0").contains("from 1 to 1000"));
}

#[test]
fn missing_and_unknown_arguments_are_usage_errors() {
    for line in ["", "play a.ron", "rehearse", "export a.ron", "import a.mid", "check"] {
        // clap exits with its own code, which has to be the documented one for an error.
        let code = parse(line).unwrap_err().exit_code();
        assert_eq!(code, i32::from(crate::exit::FAILED), "{line}");
    }
    assert_eq!(parse("--help").unwrap_err().exit_code(), 0);
}

#[test]
fn feel_takes_gives_shows_or_drops_and_does_one_of_these_at_a_time() {
    for line in [
        "feel a.ron",
        "feel a.ron --section B",
        "feel a.ron --take Sam --from Drums --layer hats --grid 1/8 --bars 2",
        "feel a.ron --give Sam --to Bass --depth 80 --loudness 20 --human 40 --seed 3",
        "feel a.ron --to Bass --off",
        "feel a.ron --drop Sam",
    ] {
        assert!(matches!(parse(line), Ok(Job::Feel(_))), "{line}: {:?}", parse(line));
    }
    let Ok(Job::Feel(feel)) = parse("feel a.ron --give Sam --to Bass") else { panic!() };
    assert_eq!((feel.depth, feel.loudness, feel.human, feel.seed), (100, None, None, 0));
    for (line, part) in [
        ("feel a.ron --take Sam", "--from"),
        ("feel a.ron --from Drums", "--take"),
        ("feel a.ron --give Sam", "--to"),
        ("feel a.ron --to Bass", "--give"),
        ("feel a.ron --to Bass --off --human 20", "--human"),
        ("feel a.ron --drop Sam --to Bass --off", "--to"),
        ("feel a.ron --take Sam --from Drums --drop Sam", "--drop"),
        ("feel a.ron --human 101 --to Bass", "from 0 to 100"),
        ("feel a.ron --give S --to Bass --depth 201", "from 0 to 200"),
        ("feel a.ron --take S --from D --bars 17", "from 1 to 16"),
    ] {
        assert!(error(line).contains(part), "{line}: {}", error(line));
    }
}

#[test]
fn every_operation_on_sections_has_an_example() {
    let args = Args::command();
    for op in args.find_subcommand("section").unwrap().get_subcommands() {
        let help = op.get_after_help().map(ToString::to_string).unwrap_or_default();
        let (start, name) = ("Example:\n  chaconne section waltz.ron ", op.get_name());
        assert!(help.starts_with(&format!("{start}{name}")), "{name}: {help}");
    }
}

#[test]
fn operations_on_sections_read_what_they_need_and_refuse_the_rest() {
    for line in [
        "add",
        "add c --name Bridge --bars 8 --metre 7/8 --tempo 93.75 --after a",
        "rename a --letter v --name Verse",
        "move a --before b",
        "move a --to-end",
        "remove a --from-form",
        "metre a 7/8 --from 3",
        "fermata a 4.4.240 --remove",
        "list",
    ] {
        let parsed = parse(&format!("section a.ron {line}"));
        let Ok(Job::Section(Sections { op: Op::Whole(_), .. })) = parsed else {
            panic!("{line}: {parsed:?}")
        };
    }
    for (line, part) in [
        ("add c4", "one to three capitals"),
        ("add --bars 0", "from 1 to 999"),
        ("add --tempo fast", "such as 93.7"),
        ("rename a", "--letter"),
        ("move a", "--before"),
        ("move a --before b --after c", "cannot be used with"),
        ("metre a 7/8 --from 0", "from 1 to 999"),
        ("fermata a 4", "use bar.beat, e.g. 8.4"),
        ("fermata a 4.x", "use bar.beat, e.g. 8.4"),
    ] {
        let said = error(&format!("section a.ron {line}"));
        assert!(said.contains(part), "{line}: {said}");
    }
    let long = "n".repeat(65);
    assert!(error(&format!("section a.ron add --name {long}")).contains("at most 64 characters"));
}

#[test]
fn a_key_is_read_in_either_case_and_only_one_change_at_a_time() {
    let key = |typed: &str| {
        let args = Args::try_parse_from(["chaconne", "key", "a.ron", typed]).map(|args| args.job);
        match args {
            Ok(Job::Key(KeyOf { how, .. })) => how.key.map(|KeyOrNone(key)| key),
            other => panic!("{other:?}"),
        }
    };
    for typed in ["Eb major", "eb MAJOR", " Eb major "] {
        assert_eq!(key(typed), Some(Some("Eb major".parse().unwrap())), "{typed}");
    }
    assert_eq!(key(""), Some(None));
    for line in ["", "--section b", "--transpose -2", "--transpose 36 --section b"] {
        assert!(matches!(parse(&format!("key a.ron {line}")), Ok(Job::Key(_))), "{line}");
    }
    for (line, part) in [
        ("H", "use a note name from Cb to C# and 'major' or 'minor'"),
        ("--transpose 37", "use -36 to 36 semitones, e.g. -2"),
        ("--transpose up", "use -36 to 36 semitones, e.g. -2"),
        ("--to Eb", "use a note name"),
    ] {
        let said = error(&format!("key a.ron {line}"));
        assert!(said.contains(part), "{line}: {said}");
    }
    let both = ["chaconne", "key", "a.ron", "--to", "C major", "--transpose", "2"];
    let said = Args::try_parse_from(both).unwrap_err().to_string();
    assert!(said.contains("cannot be used with"), "{said}");
}

#[test]
fn a_form_is_one_word_or_several_and_none_to_show_it() {
    let form = |line: &str| match parse(line) {
        Ok(Job::Form(form)) => form.form.join(" "),
        other => panic!("{other:?}"),
    };
    assert_eq!(form("form a.ron"), "");
    assert_eq!(form("form a.ron A (B C) x2 [1 D]"), "A (B C) x2 [1 D]");
}
