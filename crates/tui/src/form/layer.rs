//! The form of a layer: its name.

use super::{Form, Purpose, not_too_long, text_field};
use chaconne_song::{Pass, PassId};

/// What a layer is to be called.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LayerSpec {
    /// Its pass.
    pub of: PassId,
    /// Its name; empty for none.
    pub name: String,
}

impl Form {
    /// The name of a layer.
    pub fn name_layer(pass: &Pass) -> Form {
        let fields = vec![text_field("name", "e.g. hats; may be empty", &pass.name)];
        Form::of(Purpose::Layer(pass.id), "Name the layer", fields)
    }

    pub(super) fn layer_spec(&self, of: PassId) -> Result<LayerSpec, (usize, String)> {
        let name = self.text(0).trim().to_string();
        not_too_long(0, &name)?;
        Ok(LayerSpec { of, name })
    }
}
