//! `#[derive(Form)]`: what `domain::form::Form` asks of a struct or an enum, written from its fields.
//!
//! It follows the `#[serde(..)]` attributes that stand there anyway, so that a name, a default and what is left out are
//! told once. What it does not know, it refuses while building. Not here: how a form is read or written.

use proc_macro::TokenStream;
use proc_macro2::TokenStream as Tokens;
use quote::{format_ident, quote};
use syn::{Data, DataEnum, DeriveInput, Error, Fields, Ident, Result, Variant, parse_macro_input, parse_quote};

mod attributes;
mod fields;

use attributes::Container;
use fields::{Fielded, named};

/// Implements `domain::form::Form`.
#[proc_macro_derive(Form, attributes(serde))]
pub fn form(input: TokenStream) -> TokenStream {
    let input = parse_macro_input!(input as DeriveInput);
    written(&input).unwrap_or_else(|wrong| wrong.to_compile_error()).into()
}

fn written(input: &DeriveInput) -> Result<Tokens> {
    let container = Container::of(&input.attrs)?;
    let (blank, pass) = match &input.data {
        Data::Struct(data) => of_struct(&container, &data.fields, input)?,
        Data::Enum(data) => of_enum(&container, data)?,
        Data::Union(_) => return Err(Error::new_spanned(input, "a union is no form")),
    };
    let name = &input.ident;
    let mut generics = input.generics.clone();
    for parameter in generics.type_params_mut() {
        parameter.bounds.push(parse_quote!(crate::form::Form));
    }
    let (generics, types, bounds) = generics.split_for_impl();
    Ok(quote! {
        #[automatically_derived]
        impl #generics crate::form::Form for #name #types #bounds {
            fn blank() -> Self { #blank }
            fn pass(&mut self, desk: &mut crate::form::Desk<'_>) { #pass }
        }
    })
}

fn of_struct(container: &Container, fields: &Fields, input: &DeriveInput) -> Result<(Tokens, Tokens)> {
    match fields {
        Fields::Named(fields) => {
            let fields = named(fields)?;
            let blanks = fields.iter().map(Fielded::blank);
            let blank = if container.default {
                quote!(::core::default::Default::default())
            } else {
                quote!(Self { #(#blanks,)* })
            };
            let names = container.known_names(&fields);
            let passes = fields.iter().map(|field| {
                let name = &field.ident;
                field.pass(&quote!(&mut self.#name), &quote!(self.#name), container.default)
            });
            Ok((blank, quote! { desk.open(#names); #(#passes)* desk.close(); }))
        }
        // One value under another name is written as that value.
        Fields::Unnamed(fields) if fields.unnamed.len() == 1 => Ok((
            quote!(Self(crate::form::Form::blank())),
            quote!(crate::form::Form::pass(&mut self.0, desk);),
        )),
        _ => Err(Error::new_spanned(input, "a form has named fields or one value")),
    }
}

fn of_enum(container: &Container, data: &DataEnum) -> Result<(Tokens, Tokens)> {
    let variants = data
        .variants
        .iter()
        .map(|variant| Told::of(container, variant))
        .collect::<Result<Vec<_>>>()?;
    let Some(first) = variants.first() else {
        return Err(Error::new(data.enum_token.span, "an enum without variants is no form"));
    };
    let blanks = variants.iter().enumerate().map(|(at, told)| {
        let blank = &told.blank;
        quote!(#at => #blank)
    });
    let read = quote!(if let Some(at) = read { *self = match at { #(#blanks,)* _ => return }; });
    let which = variants.iter().enumerate().map(|(at, told)| {
        let name = &told.name;
        quote!(Self::#name { .. } => #at)
    });
    let now = quote!(match self { #(#which,)* });
    let words: Vec<_> = variants.iter().map(|told| &told.word).collect();
    let passes = variants.iter().map(|told| &told.pass);
    let pass = match &container.tag {
        Some(tag) => quote! {
            let now = #now;
            desk.open(&[]);
            let read = desk.tag(#tag, &[#(#words),*], now);
            #read
            match self { #(#passes,)* }
            desk.close();
        },
        None if variants.iter().all(|told| told.bare) => quote! {
            let now = #now;
            let read = desk.word(&[#(#words),*], now);
            #read
        },
        None => quote! {
            let read = desk.choice(&[#(#words),*]);
            #read
            match self { #(#passes,)* }
        },
    };
    Ok((first.blank.clone(), pass))
}

/// What is written for one variant.
struct Told {
    name: Ident,
    word: String,
    /// A word alone, without anything beside it.
    bare: bool,
    blank: Tokens,
    pass: Tokens,
}

impl Told {
    fn of(container: &Container, variant: &Variant) -> Result<Self> {
        let (name, word) = (&variant.ident, container.word(variant)?);
        let tagged = container.tag.is_some();
        let bare = matches!(variant.fields, Fields::Unit);
        let under = |pass: Tokens| quote!({ desk.within(#word); #pass desk.without(); });
        let (blank, pass) = match &variant.fields {
            Fields::Unit if tagged => (quote!(Self::#name), quote!(Self::#name => {})),
            Fields::Unit => (quote!(Self::#name), quote!(Self::#name => desk.bare(#word))),
            Fields::Named(fields) => {
                let fields = named(fields)?;
                let names = fields.iter().map(|field| &field.ident);
                let blanks = fields.iter().map(Fielded::blank);
                let passes = fields.iter().map(|field| {
                    let name = &field.ident;
                    field.pass(&quote!(#name), &quote!(*#name), false)
                });
                let pass = if tagged {
                    quote!({ #(#passes)* })
                } else {
                    under(quote!(desk.open(&[]); #(#passes)* desk.close();))
                };
                (
                    quote!(Self::#name { #(#blanks,)* }),
                    quote!(Self::#name { #(#names),* } => #pass),
                )
            }
            Fields::Unnamed(fields) if !tagged => {
                let count = fields.unnamed.len();
                let names: Vec<_> = (0..count).map(|at| format_ident!("item_{at}")).collect();
                let blanks = names.iter().map(|_| quote!(crate::form::Form::blank()));
                let items = names
                    .iter()
                    .enumerate()
                    .map(|(at, name)| quote!(desk.item(#at, #name);));
                let pass = if count == 1 {
                    quote!(#(crate::form::Form::pass(#names, desk);)*)
                } else {
                    quote!(desk.tuple(#count); #(#items)* desk.listed();)
                };
                let pass = under(pass);
                (
                    quote!(Self::#name(#(#blanks),*)),
                    quote!(Self::#name(#(#names),*) => #pass),
                )
            }
            Fields::Unnamed(_) => return Err(Error::new_spanned(variant, "a tagged variant has named fields")),
        };
        let name = name.clone();
        Ok(Self {
            name,
            word,
            bare,
            blank,
            pass,
        })
    }
}
