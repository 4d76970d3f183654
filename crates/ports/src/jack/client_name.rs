//! The names of this process's JACK clients.
//!
//! JACK shows a port under its client's name, and people and programs that connect ports rely on
//! that name. If all clients asked for the same name, the server would number them in the order in
//! which they connect, which changes with every restart of the server. So each client gets its own
//! name when its port is first opened, and asks for it again after a restart. If another program
//! already has the name, the client keeps the name that the server gives it instead.

use std::sync::{Mutex, MutexGuard, PoisonError};

/// The name we ask for; several clients are numbered.
const CLIENT: &str = "chaconne";
/// How many times a client asks for a name that it once had, before it accepts another.
const TRIES: u32 = 4;

/// The names that this process's clients have or will ask for.
fn taken() -> MutexGuard<'static, Vec<String>> {
    static TAKEN: Mutex<Vec<String>> = Mutex::new(Vec::new());
    TAKEN.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The name of one client, for as long as its port is wanted.
#[derive(Debug)]
pub(super) struct ClientName {
    name: String,
    /// Whether a server has ever granted it.
    is_given: bool,
    /// How many times it has been refused since then.
    refusals: u32,
}

/// What to ask the server for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Wish {
    /// Exactly this name.
    Exactly(String),
    /// This name, or this name with a number added by the server.
    Like(String),
}

impl ClientName {
    /// The first name that no other client of this process has.
    pub fn new() -> ClientName {
        let mut taken = taken();
        let number = |number| match number {
            0 => CLIENT.to_string(),
            // The form JACK itself uses.
            _ => format!("{CLIENT}-{number:02}"),
        };
        let mut names = (0..=taken.len()).map(number);
        // There is one more candidate than there are names taken, so one is free.
        let name = names.find(|name| !taken.contains(name)).unwrap_or_default();
        taken.push(name.clone());
        ClientName { name, is_given: false, refusals: 0 }
    }

    /// What to ask the server for next.
    pub fn wish(&self) -> Wish {
        let tries = if self.is_given { TRIES } else { 1 };
        if self.refusals < tries {
            Wish::Exactly(self.name.clone())
        } else {
            Wish::Like(CLIENT.to_string())
        }
    }

    /// The server refused: another client has the name.
    pub fn refused(&mut self) {
        self.refusals += 1;
    }

    /// The server granted a name; keep it.
    pub fn given(&mut self, name: &str) {
        let mut taken = taken();
        if let Some(place) = taken.iter_mut().find(|taken| **taken == self.name) {
            *place = name.to_string();
        }
        (self.name, self.is_given, self.refusals) = (name.to_string(), true, 0);
    }
}

impl Drop for ClientName {
    fn drop(&mut self) {
        let mut taken = taken();
        if let Some(index) = taken.iter().position(|taken| *taken == self.name) {
            taken.swap_remove(index);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn exactly(name: &str) -> Wish {
        Wish::Exactly(name.to_string())
    }

    // One test, because the names belong to the whole process.
    #[test]
    fn each_client_has_its_own_name_and_asks_for_it_again() {
        let (mut one, two) = (ClientName::new(), ClientName::new());
        assert_eq!((one.wish(), two.wish()), (exactly("chaconne"), exactly("chaconne-01")));
        // Another program has the name, so the client takes any name, and keeps that one.
        one.refused();
        assert_eq!(one.wish(), Wish::Like("chaconne".to_string()));
        one.given("chaconne-05");
        for _ in 0..TRIES {
            assert_eq!(one.wish(), exactly("chaconne-05"));
            one.refused();
        }
        // A name that was granted is kept.
        assert_eq!(one.wish(), Wish::Like("chaconne".to_string()));
        one.given("chaconne-06");
        assert_eq!(one.wish(), exactly("chaconne-06"));
        // A name that no client of ours has any more is free.
        let three = ClientName::new();
        assert_eq!(three.wish(), exactly("chaconne"));
        drop(two);
        assert_eq!(ClientName::new().wish(), exactly("chaconne-01"));
        drop((one, three));
        assert_eq!(ClientName::new().wish(), exactly("chaconne"));
    }
}
