//! How fast source text is lexed, parsed and formatted.

use borewright_base::FileId;
use borewright_syntax::{format, lex, parse};
use divan::Bencher;
use divan::counter::BytesCount;

fn main() {
    divan::main();
}

/// About a megabyte of routines.
fn text() -> String {
    let routine = include_str!("../tests/suite/programs/finish_bore.bore");
    (0..500).map(|i| routine.replace("finish_bore", &format!("bore_{i}"))).collect()
}

#[divan::bench(sample_count = 5, sample_size = 1)]
fn lexing(bencher: Bencher<'_, '_>) {
    let text = text();
    bencher.counter(BytesCount::of_str(&text)).bench(|| lex(FileId(0), &text));
}

#[divan::bench(sample_count = 5, sample_size = 1)]
fn parsing(bencher: Bencher<'_, '_>) {
    let text = text();
    bencher.counter(BytesCount::of_str(&text)).bench(|| parse(FileId(0), &text));
}

#[divan::bench(sample_count = 5, sample_size = 1)]
fn formatting(bencher: Bencher<'_, '_>) {
    let text = text();
    bencher.counter(BytesCount::of_str(&text)).bench(|| format(FileId(0), &text));
}

/// A text in which nearly every line is wrong.
#[divan::bench(sample_count = 5, sample_size = 1)]
fn reporting(bencher: Bencher<'_, '_>) {
    let text = text().replace(" to ", " too ").replace("requires", "require");
    bencher.counter(BytesCount::of_str(&text)).bench(|| parse(FileId(0), &text));
}
