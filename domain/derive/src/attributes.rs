//! The `#[serde(..)]` attributes of a type and of its variants, as far as forms know them.

use syn::meta::ParseNestedMeta;
use syn::{Attribute, LitStr, Result, Variant};

use crate::fields::Fielded;

/// What stands before a struct or an enum.
#[derive(Default)]
pub(crate) struct Container {
    /// What is not told is as in the default.
    pub default: bool,
    /// The field that tells the variant.
    pub tag: Option<String>,
    deny_unknown: bool,
    snake_case: bool,
}

impl Container {
    pub(crate) fn of(attributes: &[Attribute]) -> Result<Self> {
        let mut this = Self::default();
        each(attributes, |meta| {
            if meta.path.is_ident("rename_all") {
                let case = text(meta)?;
                if case.value() != "snake_case" {
                    return Err(meta.error("forms know snake_case only"));
                }
                this.snake_case = true;
            } else if meta.path.is_ident("tag") {
                this.tag = Some(text(meta)?.value());
            } else if meta.path.is_ident("deny_unknown_fields") {
                this.deny_unknown = true;
            } else if meta.path.is_ident("default") {
                this.default = true;
            } else if !meta.path.is_ident("transparent") {
                return Err(meta.error("forms do not know this: implement `Form` by hand"));
            }
            Ok(())
        })?;
        Ok(this)
    }

    /// The names of all fields where others are refused; nothing where they are let pass.
    pub(crate) fn known_names(&self, fields: &[Fielded]) -> proc_macro2::TokenStream {
        let names = fields.iter().filter(|_| self.deny_unknown).map(|field| &field.name);
        quote::quote!(&[#(#names),*])
    }

    /// What a variant is called in JSON.
    pub(crate) fn word(&self, variant: &Variant) -> Result<String> {
        let mut word = variant.ident.to_string();
        if self.snake_case {
            word = snake(&word);
        }
        each(&variant.attrs, |meta| {
            if meta.path.is_ident("rename") {
                word = text(meta)?.value();
                return Ok(());
            }
            Err(meta.error("forms do not know this about a variant"))
        })?;
        Ok(word)
    }
}

/// Looks at each of the `#[serde(..)]` attributes.
pub(crate) fn each(attributes: &[Attribute], look: impl FnMut(&ParseNestedMeta<'_>) -> Result<()>) -> Result<()> {
    let mut look = look;
    let ours = attributes.iter().filter(|attribute| attribute.path().is_ident("serde"));
    for attribute in ours {
        attribute.parse_nested_meta(|meta| look(&meta))?;
    }
    Ok(())
}

/// The text after `=`.
pub(crate) fn text(meta: &ParseNestedMeta<'_>) -> Result<LitStr> {
    meta.value()?.parse()
}

fn snake(name: &str) -> String {
    let mut snake = String::with_capacity(name.len() + 4);
    for (at, letter) in name.chars().enumerate() {
        if letter.is_ascii_uppercase() && at > 0 {
            snake.push('_');
        }
        snake.push(letter.to_ascii_lowercase());
    }
    snake
}
