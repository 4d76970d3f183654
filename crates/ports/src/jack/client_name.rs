//! What the clients of this process are called.
//!
//! JACK shows a port under its client's name, and who joins ports by hand, or has a program do it,
//! goes by that. Were it left to the server, clients that ask for one name would get numbers in the
//! order in which they come, which is another each time the server is started anew. So each client
//! has a name of its own, in the order in which the ports were opened, and asks for it again. Where
//! another program has that name at first, it keeps the one the server gives it instead.

use std::sync::{Mutex, MutexGuard, PoisonError};

/// What the server shows us as, with a number where there are several.
const CLIENT: &str = "chaconne";
/// How often a name that was once given is asked for until another will do.
const TRIES: u32 = 4;

/// The names that clients of this process have or will ask for.
fn taken() -> MutexGuard<'static, Vec<String>> {
    static TAKEN: Mutex<Vec<String>> = Mutex::new(Vec::new());
    TAKEN.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The name of one client, for as long as its port is wanted.
#[derive(Debug)]
pub(super) struct ClientName {
    name: String,
    /// Whether a server has ever given it.
    is_given: bool,
    /// How often it was refused since then.
    refusals: u32,
}

/// What a client asks for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Wish {
    /// This very name.
    Exactly(String),
    /// This name, or with a number that the server adds.
    Like(String),
}

impl ClientName {
    /// The first name that no other client of this process has.
    pub fn new() -> ClientName {
        let mut taken = taken();
        let number = |number| match number {
            0 => CLIENT.to_string(),
            // As JACK writes them.
            _ => format!("{CLIENT}-{number:02}"),
        };
        let mut names = (0..=taken.len()).map(number);
        // One more name than are taken: one of them is free.
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

    /// Another client has the very name.
    pub fn refused(&mut self) {
        self.refusals += 1;
    }

    /// The server has given a name: it is kept.
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

    // One test: the names are those of the whole process.
    #[test]
    fn each_client_has_a_name_of_its_own_and_asks_for_it_again() {
        let (mut one, two) = (ClientName::new(), ClientName::new());
        assert_eq!((one.wish(), two.wish()), (exactly("chaconne"), exactly("chaconne-01")));
        // Another program has it: any will do the first time, and that one is kept.
        one.refused();
        assert_eq!(one.wish(), Wish::Like("chaconne".to_string()));
        one.given("chaconne-05");
        for _ in 0..TRIES {
            assert_eq!(one.wish(), exactly("chaconne-05"));
            one.refused();
        }
        // Who has it now keeps it.
        assert_eq!(one.wish(), Wish::Like("chaconne".to_string()));
        one.given("chaconne-06");
        assert_eq!(one.wish(), exactly("chaconne-06"));
        // What nobody of us has any more is free.
        let three = ClientName::new();
        assert_eq!(three.wish(), exactly("chaconne"));
        drop(two);
        assert_eq!(ClientName::new().wish(), exactly("chaconne-01"));
        drop((one, three));
        assert_eq!(ClientName::new().wish(), exactly("chaconne"));
    }
}
