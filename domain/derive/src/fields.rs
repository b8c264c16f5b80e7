//! The named fields of a struct or a variant.

use proc_macro2::TokenStream as Tokens;
use quote::quote;
use syn::ext::IdentExt;
use syn::{Error, ExprPath, Field, FieldsNamed, Ident, Result, Type};

use crate::attributes::{each, text};

/// One field, with what its attributes say.
pub(crate) struct Fielded {
    pub ident: Ident,
    /// Its name in JSON.
    pub name: String,
    /// It may be left out.
    may: bool,
    /// Left out, it is as in the default; it is no `Option`.
    default: bool,
    /// What tells that it is not written.
    spare: Option<ExprPath>,
    /// Its own fields stand among those of the whole.
    flat: bool,
}

pub(crate) fn named(fields: &FieldsNamed) -> Result<Vec<Fielded>> {
    fields.named.iter().map(Fielded::of).collect()
}

impl Fielded {
    fn of(field: &Field) -> Result<Self> {
        let Some(ident) = field.ident.clone() else {
            return Err(Error::new_spanned(field, "a field without a name"));
        };
        let optional = is_option(&field.ty);
        let mut this = Self {
            name: ident.unraw().to_string(),
            ident,
            may: optional,
            default: false,
            spare: None,
            flat: false,
        };
        each(&field.attrs, |meta| {
            if meta.path.is_ident("default") {
                this.may = true;
                this.default = !optional;
            } else if meta.path.is_ident("skip_serializing_if") {
                this.spare = Some(text(meta)?.parse()?);
            } else if meta.path.is_ident("rename") {
                this.name = text(meta)?.value();
            } else if meta.path.is_ident("flatten") {
                this.flat = true;
            } else if !meta.path.is_ident("borrow") {
                return Err(meta.error("forms do not know this about a field"));
            }
            Ok(())
        })?;
        Ok(this)
    }

    /// The field of a form that nobody has filled in.
    pub(crate) fn blank(&self) -> Tokens {
        let ident = &self.ident;
        if self.default {
            quote!(#ident: ::core::default::Default::default())
        } else {
            quote!(#ident: crate::form::Form::blank())
        }
    }

    /// The passing of the field. `place` is where it is, by reference; `value` the same as a place.
    pub(crate) fn pass(&self, place: &Tokens, value: &Tokens, all_may: bool) -> Tokens {
        let name = &self.name;
        match (&self.spare, self.may || all_may) {
            _ if self.flat => quote!(desk.flat(#place);),
            (Some(spare), true) => quote!({ let spared = #spare(&#value); desk.spare(#name, spared, #place); }),
            (Some(spare), false) => quote! {
                if desk.reads() || !#spare(&#value) { desk.field(#name, #place); }
            },
            (None, true) => quote!(desk.may(#name, #place);),
            (None, false) => quote!(desk.field(#name, #place);),
        }
    }
}

fn is_option(of: &Type) -> bool {
    match of {
        Type::Path(path) => path.path.segments.last().is_some_and(|last| last.ident == "Option"),
        // A type that came through a macro.
        Type::Group(group) => is_option(&group.elem),
        _ => false,
    }
}
