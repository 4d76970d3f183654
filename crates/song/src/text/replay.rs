//! A record whose first field name has already been read. It gives that name once more, then the
//! rest of the record.

use serde::de::value::StringDeserializer;
use serde::de::{DeserializeSeed, MapAccess};

/// The fields of a record, starting with the name that has already been read.
pub(super) struct Replay<A> {
    first: Option<String>,
    rest: A,
}

impl<A> Replay<A> {
    /// A record that gives the name `first`, then the rest.
    pub(super) fn new(first: Option<String>, rest: A) -> Replay<A> {
        Replay { first, rest }
    }
}

impl<'de, A: MapAccess<'de>> MapAccess<'de> for Replay<A> {
    type Error = A::Error;

    fn next_key_seed<K: DeserializeSeed<'de>>(
        &mut self,
        seed: K,
    ) -> Result<Option<K::Value>, A::Error> {
        match self.first.take() {
            Some(name) => seed.deserialize(StringDeserializer::new(name)).map(Some),
            None => self.rest.next_key_seed(seed),
        }
    }

    fn next_value_seed<V: DeserializeSeed<'de>>(&mut self, seed: V) -> Result<V::Value, A::Error> {
        self.rest.next_value_seed(seed)
    }
}
