//! What can be wrong with files, paths and options. Each fault is made here, in one place, with its advice.

use borewright_base::{Code, Diagnostic, FileId, Severity, Span, nearest};

use crate::host::Trouble;

borewright_base::codes! {
    /// `borewright check no_such_file.bore`
    MISSING_PATH = "D0801" "missing-path";
    /// `borewright check /root/locked.bore`
    UNREADABLE_PATH = "D0802" "unreadable-path";
    /// a file saved in an old eight-bit code
    NOT_UTF8 = "D0803" "not-utf8";
    /// a file of no bytes, or of comments alone
    EMPTY_FILE = "D0804" "empty-file";
    /// `borewright check .` where no `.bore` file is
    NOTHING_TO_CHECK = "D0805" "nothing-to-check";
    /// `borewright build ... --out /proc/none`
    UNWRITABLE_PATH = "D0806" "unwritable-path";
    /// `use a` in `b.bore`, `use b` in `a.bore`
    CIRCULAR_USE = "D0807" "circular-use";
    /// a `bores.bore` of one's own beside a file that says `use bores`
    HIDDEN_FILE = "D0808" "hidden-file";
    /// `--machine nonesuch`
    UNKNOWN_MACHINE = "D0809" "no-such-machine";
    /// `--routine nonesuch`
    UNKNOWN_ROUTINE = "D0810" "routine-not-in-file";
    /// `explain nonesuch`
    UNKNOWN_CODE = "D0811" "no-such-code";
    /// `--set bore=50` (no unit), `--set bore` (no value)
    BAD_SETTING = "D0812" "bad-setting";
    /// a file of constants alone
    NOTHING_TO_BUILD = "D0813" "nothing-to-build";
    /// our own fault
    INTERNAL_FAULT = "D0814" "internal-fault";
    /// two jobs with `program 1200` in one file
    FILE_TWICE = "D0815" "file-name-twice";
    /// a manifest of certificates that was cut off
    BAD_MANIFEST = "D0816" "bad-manifest";
    /// a certificate that was changed after it was written
    CERTIFICATE_ALTERED = "D0817" "certificate-altered";
    /// a routine that has grown a move since its certificates were written
    OBLIGATION_MISSING = "D0818" "obligation-without-certificate";
    /// certificates of a routine that is no longer there
    OBLIGATION_EXTRA = "D0819" "certificate-without-obligation";
    /// a requirement that was dropped since the certificates were written
    FORMULA_DIFFERS = "D0820" "formula-differs";
    /// our own fault too
    TEXT_DISAGREES = "D0821" "text-disagrees";
    /// a program that was changed by hand after `build --certificate`
    TEXT_NOT_AS_BUILT = "D0822" "text-not-as-built";
    /// a proof with a wrong step
    CERTIFICATE_REJECTED = "P0450" "certificate-rejected";
    /// certificates of a check that did not prove everything
    NOT_PROVED = "P0451" "obligation-not-proved";
}

/// Faults of the command line and of paths: they end with status 2, all others with 1.
pub const OF_USAGE: &[Code] = &[
    MISSING_PATH,
    UNREADABLE_PATH,
    NOTHING_TO_CHECK,
    UNWRITABLE_PATH,
    UNKNOWN_MACHINE,
    UNKNOWN_ROUTINE,
    UNKNOWN_CODE,
    BAD_SETTING,
];

/// Faults of the tool itself.
const OF_OURS: [Code; 2] = [INTERNAL_FAULT, TEXT_DISAGREES];

/// The exit status that findings call for: 0 good, 1 something in the content, 2 an option or a path, 3 our
/// own fault.
#[must_use]
pub fn status(found: &[Diagnostic]) -> u8 {
    let errors = || found.iter().filter(|d| d.severity == Severity::Error);
    if errors().any(|d| OF_OURS.contains(&d.code)) {
        3
    } else if errors().any(|d| OF_USAGE.contains(&d.code)) {
        2
    } else {
        u8::from(errors().next().is_some())
    }
}

pub(crate) fn trouble(path: &str, trouble: &Trouble) -> Diagnostic {
    match trouble {
        Trouble::Missing => Diagnostic::error(MISSING_PATH, None, format!("nothing is at `{path}`"))
            .hint("check the spelling, and the directory the command was started in"),
        Trouble::Refused(why) => {
            Diagnostic::error(UNREADABLE_PATH, None, format!("`{path}` cannot be read: {why}"))
                .hint("it must be a plain file that you may read")
        }
    }
}

pub(crate) fn not_utf8(path: &str, byte: u8, span: Span) -> Diagnostic {
    Diagnostic::error(
        NOT_UTF8,
        span,
        format!("`{path}` is not UTF-8 text: the byte {byte:02X} means nothing here"),
    )
    .hint("save the file as UTF-8; older editors write letters such as the degree sign in another code")
}

pub(crate) fn empty(path: &str, span: Span) -> Diagnostic {
    Diagnostic::error(
        EMPTY_FILE,
        span,
        format!("`{path}` holds no routine, job, function, table or constant"),
    )
    .hint("an empty file passes no check; delete it, or write a routine into it")
}

pub(crate) fn empty_program(path: &str, file: FileId) -> Diagnostic {
    Diagnostic::error(EMPTY_FILE, Span::new(file, 0..0), format!("`{path}` holds no block"))
        .hint("an empty program does nothing; perhaps an editor or a copy failed to write it")
}

pub(crate) fn nothing_to_check(paths: &[String]) -> Diagnostic {
    let message = format!("no `.bore` file is below {}", quoted(paths));
    Diagnostic::error(NOTHING_TO_CHECK, None, message)
        .hint("name a file that ends in `.bore`, or a directory that has one somewhere below it")
}

pub(crate) fn circular_use(chain: &[String], span: Span) -> Diagnostic {
    let message = format!("files use each other in a circle: {}", chain.join(" uses "));
    Diagnostic::error(CIRCULAR_USE, span, message)
        .hint("move what both need into a third file that uses neither")
}

pub(crate) fn hidden_file(name: &str, path: &str, span: Span) -> Diagnostic {
    let message = format!("`use {name}` takes the bundled library; the file `{path}` is not used");
    Diagnostic::warning(HIDDEN_FILE, span, message)
        .hint("give the file a name that no bundled library has, and use that")
}

pub(crate) fn unknown_machine(name: &str, known: &[&str]) -> Diagnostic {
    let message = format!("no machine is called `{name}`, and no file is there");
    let fault = Diagnostic::error(UNKNOWN_MACHINE, None, message);
    let fault = match nearest(name, known.iter().copied()) {
        Some(near) => fault.hint(format!("the nearest name is `{near}`")),
        None => fault,
    };
    fault.hint(format!("built in: {}; or give the path of a machine file", known.join(", ")))
}

pub(crate) fn unknown_routine(name: &str, path: &str, known: &[&str]) -> Diagnostic {
    let message = format!("`{path}` has no routine or job `{name}`");
    let fault = Diagnostic::error(UNKNOWN_ROUTINE, None, message);
    match nearest(name, known.iter().copied()) {
        Some(near) => fault.hint(format!("the nearest name is `{near}`")),
        None => fault.hint(format!("it has: {}", known.join(", "))),
    }
}

pub(crate) fn unknown_code(asked: &str, nearest: Option<Code>) -> Diagnostic {
    let fault = Diagnostic::error(UNKNOWN_CODE, None, format!("no diagnostic is called `{asked}`"));
    match nearest {
        Some(code) => fault.hint(format!("the nearest is {} {}", code.number, code.name)),
        None => {
            fault.hint("a code is a letter and four digits, such as S0101; `explain` alone lists them all")
        }
    }
}

pub(crate) fn bad_setting(setting: &str, why: &str) -> Diagnostic {
    Diagnostic::error(BAD_SETTING, None, format!("`--set {setting}` {why}"))
}

pub(crate) fn nothing_to_build(path: &str) -> Diagnostic {
    Diagnostic::error(NOTHING_TO_BUILD, None, format!("`{path}` has no routine and no job to write out"))
        .hint("constants, functions and tables serve routines; name the file that has the routine")
}

pub(crate) fn file_twice(file: &str, first: &str, second: &str) -> Diagnostic {
    let message = format!("`{first}` and `{second}` would both be written to `{file}`");
    Diagnostic::error(FILE_TWICE, None, message)
        .hint("give them different program numbers, or build them one at a time with `--routine`, into two directories")
}

pub(crate) fn bad_manifest(path: &str, why: &str) -> Diagnostic {
    Diagnostic::error(BAD_MANIFEST, None, format!("`{path}` is no manifest of certificates: {why}"))
        .hint("write the certificates anew: `borewright check --certificate DIR PATH`")
}

pub(crate) fn certificate_altered(file: &str, why: &str) -> Diagnostic {
    Diagnostic::error(
        CERTIFICATE_ALTERED,
        None,
        format!("the certificate `{file}` is not as it was written: {why}"),
    )
    .hint("fetch the directory again from where it came, or write the certificates anew")
}

pub(crate) fn text_not_as_built(file: &str, why: &str) -> Diagnostic {
    let message = format!("`{file}` is not the program that the certificates were written with: {why}");
    Diagnostic::error(TEXT_NOT_AS_BUILT, None, message)
        .hint("name the program, or the directory it is in, after `--against` too")
        .hint("a program that was changed is proved no longer: build it again with `--certificate`")
}

pub(crate) fn obligation_missing(id: &str, span: Span) -> Diagnostic {
    Diagnostic::error(OBLIGATION_MISSING, span, format!("no certificate is there for `{id}`"))
        .hint("the source says more than was proved: check it again and write the certificates anew")
}

pub(crate) fn obligation_extra(id: &str) -> Diagnostic {
    Diagnostic::error(OBLIGATION_EXTRA, None, format!("the source asks for no such thing as `{id}`"))
        .hint("the certificates belong to another source, or were left over: write them anew into an empty directory")
}

pub(crate) fn formula_differs(id: &str, span: Span) -> Diagnostic {
    let message = format!("what was proved as `{id}` is not what the source says now");
    Diagnostic::error(FORMULA_DIFFERS, span, message)
        .hint("the source, or the version of this tool, has changed since: check again and write the certificates anew")
}

pub(crate) fn rejected(file: &str, why: &str) -> Diagnostic {
    Diagnostic::error(CERTIFICATE_REJECTED, None, format!("the certificate `{file}` does not hold: {why}"))
        .hint("do not rely on what it claims; if this tool wrote it, that is our fault: please report it")
}

pub(crate) fn not_proved(id: &str, verdict: &str, span: Span) -> Diagnostic {
    Diagnostic::error(NOT_PROVED, span, format!("the manifest says of `{id}`: {verdict}"))
        .hint("nothing may be made of what is not proved: correct the routine first")
}

/// A path that cannot be written: made by the command, which alone writes.
#[must_use]
pub fn unwritable(path: &str, why: &str) -> Diagnostic {
    Diagnostic::error(UNWRITABLE_PATH, None, format!("`{path}` cannot be written: {why}"))
        .hint("nothing was written; name a directory that you may write to, with room in it")
}

/// A fault of the tool itself: made by the command, which catches it.
#[must_use]
pub fn internal(what: &str) -> Diagnostic {
    Diagnostic::error(INTERNAL_FAULT, None, format!("the tool itself failed: {what}"))
        .hint("this is our fault, not yours; nothing was written")
        .hint("please report it with the file that brought it about")
}

/// A program that does not agree with its motion.
pub(crate) fn text_disagrees(file: &str, why: &str) -> Diagnostic {
    Diagnostic::error(TEXT_DISAGREES, None, format!("`{file}` is not what was proved: {why}"))
        .hint("this is our fault, not yours; nothing was written")
        .hint("please report it with the file that brought it about")
}

fn quoted(paths: &[String]) -> String {
    paths.iter().map(|p| format!("`{p}`")).collect::<Vec<_>>().join(", ")
}
