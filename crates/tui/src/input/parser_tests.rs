use super::super::Kind;
use super::*;
use proptest::prelude::*;

fn ms(count: u64) -> Duration {
    Duration::from_millis(count)
}

/// The input from all of `bytes` at once and then a long silence.
fn read(bytes: &[u8]) -> Vec<Input> {
    let (mut parser, mut out) = (Parser::default(), Vec::new());
    parser.feed(bytes, ms(0), &mut out);
    parser.expire(ms(1000), &mut out);
    out
}

fn keys(bytes: &[u8]) -> Vec<Key> {
    let key = |input| match input {
        Input::Key(key) => key,
        other => panic!("{other:?} is no key"),
    };
    read(bytes).into_iter().map(key).collect()
}

#[test]
fn plain_keys_and_control_characters() {
    // ASCII control characters as a terminal in raw mode sends them (POSIX, General Terminal
    // Interface; ECMA-6).
    assert_eq!(
        keys(b"aU \r\t\x7f\x03\x1a"),
        [
            Key::char('a'),
            Key::char('U'),
            Key::char(' '),
            Key::new(Code::Enter),
            Key::new(Code::Tab),
            Key::new(Code::Backspace),
            Key::ctrl('c'),
            Key::ctrl('z'),
        ]
    );
    assert_eq!(keys("ö漢🎵".as_bytes()), ['ö', '漢', '🎵'].map(Key::char));
}

#[test]
fn special_keys_of_xterm_and_the_text_console() {
    // XTerm Control Sequences, "PC-Style Function Keys"; console_codes(4) for `ESC [ [ A`.
    let cases: [(&[u8], Code); 12] = [
        (b"\x1b[A", Code::Up),
        (b"\x1bOB", Code::Down),
        (b"\x1b[C", Code::Right),
        (b"\x1bOD", Code::Left),
        (b"\x1b[H", Code::Home),
        (b"\x1b[4~", Code::End),
        (b"\x1b[3~", Code::Delete),
        (b"\x1b[Z", Code::BackTab),
        (b"\x1bOP", Code::F(1)),
        (b"\x1b[[A", Code::F(1)),
        (b"\x1b[15~", Code::F(5)),
        (b"\x1b[24~", Code::F(12)),
    ];
    for (bytes, code) in cases {
        assert_eq!(keys(bytes), [Key::new(code)], "{bytes:?}");
    }
    assert!(keys(b"\x1b[1;5C")[0].ctrl);
}

#[test]
fn keys_of_the_kitty_protocol() {
    // kitty keyboard protocol, "An overview": CSI code:alternate ; modifiers:event ; text u.
    let key = keys(b"\x1b[97;1:3u")[0];
    assert_eq!((key.code, key.kind), (Code::Char('a'), Kind::Release));
    let key = keys(b"\x1b[97;2;65u")[0];
    assert_eq!((key.code, key.identity()), (Code::Char('A'), Some('a')));
    let key = keys(b"\x1b[49;2;33u")[0];
    assert_eq!((key.code, key.identity()), (Code::Char('!'), Some('1')));
    // The base-layout key is the key's identity: Cyrillic f is in the place of Latin a.
    let key = keys("\x1b[1092::97;1:2u".as_bytes())[0];
    assert_eq!((key.kind, key.identity()), (Kind::Repeat, Some('a')));
    assert_eq!(keys(b"\x1b[115;5u")[0].chord(), Key::ctrl('s'));
    assert_eq!(keys(b"\x1b[27u"), [Key::new(Code::Esc)]);
    assert_eq!(keys(b"\x1b[1;1:3A")[0].kind, Kind::Release);
    assert_eq!(read(b"\x1b[57441;2u"), []);
    assert_eq!(read(b"\x1b[?0u"), [Input::Releases]);
}

#[test]
fn answers_from_the_terminal_are_not_keys() {
    assert_eq!(read(b"\x1b[24;80R"), [Input::CursorReply]);
    assert_eq!(read(b"\x1b[?62;22c"), []);
    assert_eq!(read(b"\x1b[?2026;2$y"), []);
    assert_eq!(read(b"\x1b]11;rgb:ffff/ffff/ffff\x1b\\"), [Input::Background { light: true }]);
    assert_eq!(read(b"\x1b]11;rgb:10/12/16\x07"), [Input::Background { light: false }]);
    assert_eq!(read(b"\x1bP1$r0m\x1b\\x"), [Input::Key(Key::char('x'))]);
}

#[test]
fn a_lone_escape_is_recognised_by_the_silence_after_it() {
    let (mut parser, mut out) = (Parser::default(), Vec::new());
    parser.feed(b"\x1b", ms(100), &mut out);
    assert_eq!(parser.deadline(), Some(ms(150)));
    parser.expire(ms(149), &mut out);
    assert_eq!(out, []);
    parser.expire(ms(150), &mut out);
    assert_eq!(out, [Input::Key(Key::new(Code::Esc))]);
    assert_eq!(parser.deadline(), None);
}

/// XTerm Control Sequences, "PC-Style Function Keys": parameter 2 is Shift, 6 is Shift with Control.
#[test]
fn an_arrow_with_shift_is_a_key_of_its_own() {
    let (mut parser, mut out) = (Parser::default(), Vec::new());
    parser.feed(b"\x1b[1;2D\x1b[1;6C\x1b[1;2H", ms(0), &mut out);
    let both = Key { ctrl: true, ..Key::shift(Code::Right) };
    let keys = [Key::shift(Code::Left), both, Key::new(Code::Home)];
    assert_eq!(out, keys.map(Input::Key));
}

#[test]
fn a_sequence_that_arrives_in_parts_soon_enough_is_one_key() {
    let (mut parser, mut out) = (Parser::default(), Vec::new());
    for (at, byte) in b"\x1b[1;5C".iter().enumerate() {
        let now = ms(at as u64 * 40);
        parser.expire(now, &mut out);
        parser.feed(&[*byte], now, &mut out);
    }
    assert_eq!(out, [Input::Key(Key { ctrl: true, ..Key::new(Code::Right) })]);
}

#[test]
fn an_unfinished_sequence_is_dropped() {
    let (mut parser, mut out) = (Parser::default(), Vec::new());
    parser.feed(b"\x1b[1;", ms(0), &mut out);
    parser.expire(ms(60), &mut out);
    parser.feed(b"x", ms(70), &mut out);
    assert_eq!(out, [Input::Key(Key::char('x'))]);
}

#[test]
fn two_escapes_are_two_keys() {
    assert_eq!(keys(b"\x1b\x1b"), [Key::new(Code::Esc), Key::new(Code::Esc)]);
}

#[test]
fn escape_and_a_key_in_one_read_are_two_keys() {
    // The openers of sequences too: CSI, SS3, OSC, DCS, SOS, PM, APC (ECMA-48 5.4, 5.6).
    for typed in "k q!~[O]PX^_".split("").filter(|typed| !typed.is_empty()) {
        let bytes = format!("\x1b{typed}");
        let second = typed.chars().next().map(Key::char).unwrap();
        assert_eq!(keys(bytes.as_bytes()), [Key::new(Code::Esc), second], "{typed:?}");
    }
    assert_eq!(keys(b"\x1b\r"), [Key::new(Code::Esc), Key::new(Code::Enter)]);
    assert_eq!(keys("\x1bö".as_bytes()), [Key::new(Code::Esc), Key::char('ö')]);
    assert_eq!(keys(b"\x1b[["), [Key::new(Code::Esc), Key::char('['), Key::char('[')]);
    assert_eq!(keys(b"\x1b\x1b[A"), [Key::new(Code::Esc), Key::new(Code::Up)]);
    assert_eq!(keys(b"\x1bk\x1b[A"), [Key::new(Code::Esc), Key::char('k'), Key::new(Code::Up)]);
}

#[test]
fn a_paste_is_text_and_never_keys() {
    assert_eq!(read(b"\x1b[200~q\r!\x1b[201~"), [Input::Paste("q!".into())]);
    assert_eq!(read("\x1b[200~naïve\x1b[A\x1b[201~".as_bytes()), [Input::Paste("naïve[A".into())]);
}

#[test]
fn a_paste_that_never_ends_does_not_lock_the_keyboard() {
    let (mut parser, mut out) = (Parser::default(), Vec::new());
    parser.feed(b"\x1b[200~half", ms(0), &mut out);
    parser.expire(ms(4999), &mut out);
    assert_eq!(out, []);
    parser.expire(ms(5000), &mut out);
    parser.feed(b"q", ms(5001), &mut out);
    assert_eq!(out, [Input::Paste("half".into()), Input::Key(Key::char('q'))]);
}

#[test]
fn a_huge_paste_is_cut_and_takes_bounded_memory() {
    let (mut parser, mut out) = (Parser::default(), Vec::new());
    parser.feed(b"\x1b[200~", ms(0), &mut out);
    for _ in 0..10_000 {
        parser.feed(&[b'x'; 100], ms(0), &mut out);
        assert!(parser.held.capacity() < 4 * Parser::LONGEST_PASTE);
    }
    parser.feed(b"\x1b[201~y", ms(0), &mut out);
    let [Input::Paste(text), Input::Key(after)] = out.as_slice() else { panic!("{out:?}") };
    assert_eq!((text.len(), *after), (Parser::LONGEST_PASTE, Key::char('y')));
}

#[test]
fn a_sequence_without_end_takes_bounded_memory() {
    let (mut parser, mut out) = (Parser::default(), Vec::new());
    for start in [b"\x1b[".as_slice(), b"\x1b]"] {
        parser.feed(start, ms(0), &mut out);
        parser.feed(&[b'1'; 100_000], ms(0), &mut out);
        assert!(parser.held.capacity() <= 4 * Parser::LONGEST);
        parser.expire(ms(99), &mut out);
    }
    assert_eq!(out, []);
}

proptest! {
    /// Whatever arrives, nothing panics, and after a silence a plain key is read as itself again (a
    /// paste ends only at its end mark).
    #[test]
    fn garbage_does_no_harm(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        let (mut parser, mut out) = (Parser::default(), Vec::new());
        parser.feed(&bytes, ms(0), &mut out);
        parser.feed(PASTE_END, ms(0), &mut out);
        parser.expire(ms(100), &mut out);
        parser.feed(PASTE_END, ms(200), &mut out);
        parser.expire(ms(300), &mut out);
        out.clear();
        parser.feed(b"k", ms(400), &mut out);
        prop_assert_eq!(out, [Input::Key(Key::char('k'))]);
    }

    /// A stream gives the same input wherever it is cut.
    #[test]
    fn a_stream_may_be_split_anywhere(cut in 0usize..40) {
        let stream = "a\x1b[A\u{f6}\x1b[1;5D\x1b[200~p\x1b[201~\x1b[97;1:3u\x1bOP!";
        let bytes = stream.as_bytes();
        let cut = cut.min(bytes.len());
        let (mut parser, mut out) = (Parser::default(), Vec::new());
        parser.feed(&bytes[..cut], ms(0), &mut out);
        parser.feed(&bytes[cut..], ms(1), &mut out);
        prop_assert_eq!(out, read(bytes));
    }
}
