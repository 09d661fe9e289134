//! Packed values for serde: what `toml` gives from the text, with the same spans.

use super::Misfit;
use super::read::{Kind, Value, Values};
use serde::de::value::BorrowedStrDeserializer;
use serde::de::{DeserializeSeed, Deserializer, EnumAccess, IntoDeserializer, MapAccess, SeqAccess, VariantAccess, Visitor};
use serde::forward_to_deserialize_any;
use serde_spanned::de::{SpannedDeserializer, is_spanned};

impl<'de> Deserializer<'de> for Value<'de> {
    type Error = Misfit;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misfit> {
        match self.kind {
            Kind::Text(text) => visitor.visit_borrowed_str(text),
            Kind::Integer(integer) => visitor.visit_i64(integer),
            Kind::Float(float) => visitor.visit_f64(float),
            Kind::Truth(truth) => visitor.visit_bool(truth),
            Kind::Array(values) => visitor.visit_seq(values),
            Kind::Table(entries) => visitor.visit_map(entries),
        }
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misfit> {
        visitor.visit_some(self)
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(self, _name: &'static str, visitor: V) -> Result<V::Value, Misfit> {
        visitor.visit_newtype_struct(self)
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        name: &'static str,
        _fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Misfit> {
        if is_spanned(name) {
            return visitor.visit_map(SpannedDeserializer::new(self, self.start..self.end));
        }
        self.deserialize_any(visitor)
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _name: &'static str,
        _variants: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Misfit> {
        match self.kind {
            Kind::Text(text) => visitor.visit_enum(BorrowedStrDeserializer::new(text)),
            Kind::Table(entries) if entries.count() == 1 => visitor.visit_enum(entries),
            _ => Err(Misfit),
        }
    }

    /// It has been read whole by its size.
    fn deserialize_ignored_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misfit> {
        visitor.visit_unit()
    }

    forward_to_deserialize_any! {
        bool u8 u16 u32 u64 u128 i8 i16 i32 i64 i128 f32 f64 char str string seq bytes byte_buf map unit unit_struct tuple_struct
        tuple identifier
    }
}

impl<'de> IntoDeserializer<'de, Misfit> for Value<'de> {
    type Deserializer = Self;

    fn into_deserializer(self) -> Self {
        self
    }
}

impl<'de> SeqAccess<'de> for Values<'de> {
    type Error = Misfit;

    fn next_element_seed<T: DeserializeSeed<'de>>(&mut self, seed: T) -> Result<Option<T::Value>, Misfit> {
        self.next().map(|value| seed.deserialize(value?)).transpose()
    }

    fn size_hint(&self) -> Option<usize> {
        Some(self.count())
    }
}

impl<'de> MapAccess<'de> for Values<'de> {
    type Error = Misfit;

    fn next_key_seed<K: DeserializeSeed<'de>>(&mut self, seed: K) -> Result<Option<K::Value>, Misfit> {
        self.next_key().map(|key| seed.deserialize(Key::new(key?))).transpose()
    }

    fn next_value_seed<V: DeserializeSeed<'de>>(&mut self, seed: V) -> Result<V::Value, Misfit> {
        seed.deserialize(self.value()?)
    }

    fn size_hint(&self) -> Option<usize> {
        Some(self.count())
    }
}

/// A table of one key, which names the variant.
impl<'de> EnumAccess<'de> for Values<'de> {
    type Error = Misfit;
    type Variant = Value<'de>;

    fn variant_seed<V: DeserializeSeed<'de>>(mut self, seed: V) -> Result<(V::Value, Value<'de>), Misfit> {
        let key = self.next_key().ok_or(Misfit)??;
        Ok((seed.deserialize(Key::new(key))?, self.value()?))
    }
}

impl<'de> VariantAccess<'de> for Value<'de> {
    type Error = Misfit;

    fn unit_variant(self) -> Result<(), Misfit> {
        match self.kind {
            Kind::Array(values) | Kind::Table(values) if values.count() == 0 => Ok(()),
            _ => Err(Misfit),
        }
    }

    fn newtype_variant_seed<T: DeserializeSeed<'de>>(self, seed: T) -> Result<T::Value, Misfit> {
        seed.deserialize(self)
    }

    fn tuple_variant<V: Visitor<'de>>(self, len: usize, visitor: V) -> Result<V::Value, Misfit> {
        match self.kind {
            Kind::Array(values) if values.count() == len => visitor.visit_seq(values),
            _ => Err(Misfit),
        }
    }

    /// As from TOML, an unknown key is wrong here.
    fn struct_variant<V: Visitor<'de>>(self, fields: &'static [&'static str], visitor: V) -> Result<V::Value, Misfit> {
        let Kind::Table(mut entries) = self.kind else { return Err(Misfit) };
        while let Some(key) = entries.next_key() {
            if !fields.contains(&key?.0) {
                return Err(Misfit);
            }
            entries.value()?;
        }
        self.deserialize_any(visitor)
    }
}

/// A key and where it stands.
struct Key<'de> {
    name: &'de str,
    start: usize,
    end: usize,
}

impl<'de> Key<'de> {
    fn new((name, Value { start, end, .. }): (&'de str, Value<'de>)) -> Self {
        Self { name, start, end }
    }
}

impl<'de> Deserializer<'de> for Key<'de> {
    type Error = Misfit;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misfit> {
        visitor.visit_borrowed_str(self.name)
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(self, _name: &'static str, visitor: V) -> Result<V::Value, Misfit> {
        visitor.visit_newtype_struct(self)
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        name: &'static str,
        _fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Misfit> {
        if is_spanned(name) {
            let key: BorrowedStrDeserializer<'de, Misfit> = BorrowedStrDeserializer::new(self.name);
            return visitor.visit_map(SpannedDeserializer::new(key, self.start..self.end));
        }
        self.deserialize_any(visitor)
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _name: &'static str,
        _variants: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Misfit> {
        visitor.visit_enum(BorrowedStrDeserializer::new(self.name))
    }

    forward_to_deserialize_any! {
        bool u8 u16 u32 u64 u128 i8 i16 i32 i64 i128 f32 f64 char str string seq bytes byte_buf map option unit unit_struct
        tuple_struct tuple ignored_any identifier
    }
}
