//! A record whose first field decides its kind. Its fields are taken out one by one, by name.

use super::leaf::Leaf;
use super::read::Reader;
use serde::de::{Error, MapAccess, Visitor};
use serde::{Deserialize, Deserializer};
use std::fmt;

/// The fields of a record, in the order in which they are written.
#[derive(Debug)]
pub(super) struct Fields<'a>(Vec<(String, Leaf<'a>)>);

impl<'de: 'a, 'a> Deserialize<'de> for Fields<'a> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_struct("edit", &[], FieldsVisitor(std::marker::PhantomData))
    }
}

struct FieldsVisitor<'a>(std::marker::PhantomData<&'a ()>);

impl<'de: 'a, 'a> Visitor<'de> for FieldsVisitor<'a> {
    type Value = Fields<'a>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("an edit")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Fields<'a>, A::Error> {
        let mut fields: Vec<(String, Leaf<'a>)> = Vec::new();
        while let Some(name) = map.next_key_seed(Name)? {
            if fields.iter().any(|(known, _)| *known == name) {
                return Err(A::Error::custom(format!("the field '{name}' is given twice")));
            }
            if fields.len() == MOST {
                return Err(A::Error::custom(format!("an edit has at most {MOST} fields")));
            }
            fields.push((name, map.next_value()?));
        }
        Ok(Fields(fields))
    }
}

/// The limit for one edit; no kind of edit has that many fields.
const MOST: usize = 12;

impl<'a> Fields<'a> {
    /// Takes the first field that is left, and returns its name and value.
    pub(super) fn pop(&mut self) -> Option<(String, Leaf<'a>)> {
        if self.0.is_empty() { None } else { Some(self.0.remove(0)) }
    }

    /// Takes a field, if the record has it.
    pub(super) fn take(&mut self, name: &str) -> Option<Leaf<'a>> {
        let at = self.0.iter().position(|(known, _)| known == name)?;
        Some(self.0.remove(at).1)
    }

    /// Takes a required field, or adds an error at `whole`, which is the record.
    pub(super) fn need(
        &mut self,
        reader: &mut Reader<'a>,
        whole: Leaf<'a>,
        name: &str,
    ) -> Option<Leaf<'a>> {
        let found = self.take(name);
        if found.is_none() {
            reader.faults.add(whole, format!("this edit is missing its field '{name}'"));
        }
        found
    }

    /// Adds an error for each field that is left: an edit of this kind does not have it.
    pub(super) fn end(self, reader: &mut Reader<'a>) -> Option<()> {
        for (name, leaf) in &self.0 {
            let name = super::fault::short(name);
            reader.faults.add(*leaf, format!("an edit of this kind has no field '{name}'"));
        }
        self.0.is_empty().then_some(())
    }
}

/// Reads the name of a field.
pub(super) struct Name;

impl<'de> serde::de::DeserializeSeed<'de> for Name {
    type Value = String;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<String, D::Error> {
        deserializer.deserialize_identifier(self)
    }
}

impl Visitor<'_> for Name {
    type Value = String;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("the name of a field")
    }

    fn visit_str<E: Error>(self, name: &str) -> Result<String, E> {
        Ok(name.to_string())
    }
}
