//! Writes changes into a source file, each behind its switch.

use std::collections::HashMap;

use anyhow::{Context, Result};
use serde::Deserialize;
use syn::spanned::Spanned;
use syn::visit::{self, Visit};

/// A change, as `cargo mutants --list --json` tells it.
#[derive(Clone, Debug, Deserialize)]
pub struct Mutant {
    pub file: String,
    pub name: String,
    pub genre: String,
    pub replacement: String,
    pub span: Span,
}

impl Mutant {
    /// What is returned as `impl ...` is of one type, and a second way out would need another.
    pub fn has_a_switch(&self) -> bool {
        self.genre != "FnValue" || !self.name.contains("-> impl ")
    }
}

#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Eq, Hash)]
pub struct Span {
    start: Place,
    end: Place,
}

/// A line and column, both counted from 1.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Eq, Hash)]
struct Place {
    line: usize,
    column: usize,
}

impl From<proc_macro2::Span> for Span {
    fn from(span: proc_macro2::Span) -> Self {
        let place = |at: proc_macro2::LineColumn| Place {
            line: at.line,
            column: at.column + 1,
        };
        Self {
            start: place(span.start()),
            end: place(span.end()),
        }
    }
}

/// A piece of source that some changes exchange.
struct Site {
    from: usize,
    to: usize,
    how: How,
}

enum How {
    /// An expression becomes another.
    Instead(Vec<(usize, String)>),
    /// Something is put before it.
    Before(String, Vec<usize>),
    /// Nothing is left of it.
    Gone,
}

/// The file with all changes in it, and those for which no place was found.
pub fn with_switches(source: &str, mutants: &[(usize, &Mutant)]) -> Result<(String, Vec<usize>)> {
    let mut by_span: HashMap<Span, Vec<(usize, &Mutant)>> = HashMap::new();
    for (number, mutant) in mutants {
        by_span.entry(mutant.span).or_default().push((*number, mutant));
    }
    let mut finder = Finder {
        source,
        by_span,
        sites: Vec::new(),
    };
    finder.visit_file(&syn::parse_file(source).context("this is no Rust")?);
    let unplaced = finder.by_span.values().flatten().map(|(number, _)| *number).collect();
    let mut sites = finder.sites;
    // Outer before inner.
    sites.sort_by_key(|site| (site.from, std::cmp::Reverse(site.to)));
    Ok((rendered(source, 0, source.len(), &sites), unplaced))
}

fn rendered(source: &str, from: usize, to: usize, sites: &[Site]) -> String {
    let (mut text, mut at) = (String::new(), from);
    let mut next = 0;
    while let Some(site) = sites.get(next) {
        let within = sites[next + 1..]
            .iter()
            .take_while(|inner| inner.to <= site.to && inner.from < site.to.max(site.from + 1))
            .count();
        let inner = &sites[next + 1..next + 1 + within];
        text.push_str(&source[at..site.from]);
        match &site.how {
            How::Gone => {}
            How::Before(before, numbers) => {
                text.push_str(&format!("\n/*<{}*/{before}/*>*/\n", marks(numbers)));
            }
            How::Instead(arms) => {
                let numbers: Vec<usize> = arms.iter().map(|(number, _)| *number).collect();
                text.push_str(&format!("/*<{}*/(", marks(&numbers)));
                for (number, arm) in arms {
                    text.push_str(&format!(
                        "\n/*<{number}*/if crate::switch::on({number}) {{ {arm} }} else /*>*/"
                    ));
                }
                text.push_str("{ ");
                text.push_str(&rendered(source, site.from, site.to, inner));
                text.push_str(" })/*>*/");
            }
        }
        if matches!(site.how, How::Before(..)) {
            at = site.from;
            next += 1;
        } else {
            at = site.to;
            next += 1 + within;
        }
    }
    text.push_str(&source[at..to]);
    text
}

fn marks(numbers: &[usize]) -> String {
    numbers.iter().map(ToString::to_string).collect::<Vec<_>>().join(",")
}

/// The changes around a place of a written file, innermost.
pub fn around(written: &str, at: usize) -> Vec<usize> {
    let mut open: Vec<&str> = Vec::new();
    let before = written.get(..at).unwrap_or(written);
    let mut rest = before;
    while let Some((_, after)) = rest.split_once("/*") {
        if let Some(marks) = after.strip_prefix('<') {
            open.push(marks.split_once("*/").map_or("", |(marks, _)| marks));
        } else if after.starts_with(">*/") {
            open.pop();
        }
        rest = after;
    }
    let innermost = open.last().copied().unwrap_or_default();
    innermost.split(',').filter_map(|number| number.parse().ok()).collect()
}

struct Finder<'a> {
    source: &'a str,
    by_span: HashMap<Span, Vec<(usize, &'a Mutant)>>,
    sites: Vec<Site>,
}

impl Finder<'_> {
    fn bytes(&self, of: &impl Spanned) -> (usize, usize) {
        let span = of.span().byte_range();
        (span.start, span.end)
    }

    fn text(&self, of: &impl Spanned) -> &str {
        let (from, to) = self.bytes(of);
        &self.source[from..to]
    }

    /// The changes of a genre that lie exactly here.
    fn taken(&mut self, span: proc_macro2::Span, genre: &str) -> Vec<(usize, String)> {
        let Some(all) = self.by_span.get_mut(&span.into()) else {
            return Vec::new();
        };
        let (ours, others): (Vec<_>, Vec<_>) = all.drain(..).partition(|(_, mutant)| mutant.genre == genre);
        *all = others;
        ours.into_iter()
            .map(|(number, mutant)| (number, mutant.replacement.clone()))
            .collect()
    }

    fn instead(&mut self, of: &impl Spanned, arms: Vec<(usize, String)>) {
        if !arms.is_empty() {
            let (from, to) = self.bytes(of);
            self.sites.push(Site {
                from,
                to,
                how: How::Instead(arms),
            });
        }
    }

    /// What has changes in it is no longer `const`: the switch is not.
    fn unless_const(&mut self, signature: &syn::Signature, look: impl FnOnce(&mut Self)) {
        let before = self.sites.len();
        look(self);
        if let Some(constant) = signature.constness.filter(|_| self.sites.len() > before) {
            let (from, to) = self.bytes(&constant);
            self.sites.push(Site {
                from,
                to,
                how: How::Gone,
            });
        }
    }

    fn body(&mut self, block: &syn::Block) {
        let [Some(first), Some(last)] = [block.stmts.first(), block.stmts.last()] else {
            return;
        };
        let span = Span {
            start: Span::from(first.span()).start,
            end: Span::from(last.span()).end,
        };
        let Some(all) = self.by_span.remove(&span) else { return };
        let (ours, others): (Vec<_>, Vec<_>) = all.into_iter().partition(|(_, mutant)| mutant.genre == "FnValue");
        self.by_span.insert(span, others);
        if ours.is_empty() {
            return;
        }
        let from = first.span().byte_range().start;
        for (number, mutant) in ours {
            let before = format!("if crate::switch::on({number}) {{ return {}; }}", mutant.replacement);
            self.before(from, before, vec![number]);
        }
    }

    fn before(&mut self, at: usize, text: String, numbers: Vec<usize>) {
        self.sites.push(Site {
            from: at,
            to: at,
            how: How::Before(text, numbers),
        });
    }
}

/// Whether it is or has a `let` among what is joined by `&&`.
fn has_let(of: &syn::Expr) -> bool {
    match of {
        syn::Expr::Let(_) => true,
        syn::Expr::Binary(of) => has_let(&of.left) || has_let(&of.right),
        _ => false,
    }
}

impl<'ast> Visit<'ast> for Finder<'_> {
    fn visit_item_fn(&mut self, of: &'ast syn::ItemFn) {
        self.unless_const(&of.sig, |this| {
            this.body(&of.block);
            visit::visit_item_fn(this, of);
        });
    }

    fn visit_impl_item_fn(&mut self, of: &'ast syn::ImplItemFn) {
        self.unless_const(&of.sig, |this| {
            this.body(&of.block);
            visit::visit_impl_item_fn(this, of);
        });
    }

    fn visit_trait_item_fn(&mut self, of: &'ast syn::TraitItemFn) {
        if let Some(block) = &of.default {
            self.body(block);
        }
        visit::visit_trait_item_fn(self, of);
    }

    fn visit_expr_binary(&mut self, of: &'ast syn::ExprBinary) {
        if !has_let(&of.left) && !has_let(&of.right) {
            let arms = self.taken(of.op.span(), "BinaryOperator");
            let (left, right) = (self.text(&of.left).to_owned(), self.text(&of.right).to_owned());
            let arms = arms
                .into_iter()
                .map(|(number, op)| (number, format!("{left} {op} {right}")));
            self.instead(of, arms.collect());
        }
        visit::visit_expr_binary(self, of);
    }

    fn visit_expr_unary(&mut self, of: &'ast syn::ExprUnary) {
        let arms = self.taken(of.op.span(), "UnaryOperator");
        let operand = self.text(&of.expr).to_owned();
        let arms = arms.into_iter().map(|(number, op)| (number, format!("{op}{operand}")));
        self.instead(of, arms.collect());
        visit::visit_expr_unary(self, of);
    }

    fn visit_arm(&mut self, of: &'ast syn::Arm) {
        if let Some((_, guard)) = &of.guard {
            let arms = self.taken(guard.span(), "MatchArmGuard");
            if !has_let(guard) {
                self.instead(guard, arms);
            }
        }
        for (number, _) in self.taken(of.span(), "MatchArm") {
            let numbers = vec![number];
            match &of.guard {
                Some((_, guard)) => {
                    let (from, to) = self.bytes(guard);
                    let (open, close) = if has_let(guard) { ("", "") } else { ("(", ")") };
                    self.before(from, format!("!crate::switch::on({number}) && {open}"), numbers.clone());
                    self.before(to, close.to_owned(), numbers);
                }
                None => {
                    let arrow = self.bytes(&of.fat_arrow_token).0;
                    self.before(arrow, format!("if !crate::switch::on({number})"), numbers);
                }
            }
        }
        visit::visit_arm(self, of);
    }

    fn visit_expr_struct(&mut self, of: &'ast syn::ExprStruct) {
        let mut arms = Vec::new();
        for field in of.fields.pairs() {
            for (number, _) in self.taken(field.span(), "StructField") {
                let ((from, to), (cut_from, cut_to)) = (self.bytes(of), self.bytes(&field));
                arms.push((
                    number,
                    format!("{}{}", &self.source[from..cut_from], &self.source[cut_to..to]),
                ));
            }
        }
        self.instead(of, arms);
        visit::visit_expr_struct(self, of);
    }
}
