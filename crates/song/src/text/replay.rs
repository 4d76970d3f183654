//! A record whose first field name has been read already: the name is repeated, and the rest
//! follows.

use serde::de::value::StringDeserializer;
use serde::de::{DeserializeSeed, MapAccess};

/// The fields of a record, from the first on.
pub(super) struct Replay<A> {
    first: Option<String>,
    rest: A,
}

impl<A> Replay<A> {
    /// `first` and then what `rest` has.
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
