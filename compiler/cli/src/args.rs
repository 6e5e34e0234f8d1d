//! What may stand on the command line. Verbs, options and their meaning are a contract with users' scripts.

use clap::{Args, Parser, Subcommand, ValueEnum};
use clap_complete::Shell;

/// Writes milling routines once, proves them for every size, and writes them out for the machine.
#[derive(Debug, Parser)]
#[command(name = "borewright", version, arg_required_else_help = true, after_help = STATUS)]
pub struct Arguments {
    #[command(subcommand)]
    pub verb: Verb,
}

const STATUS: &str = "Exit status: 0 good; 1 something was found in the content; 2 bad option, unreadable or \
unwritable path; 3 our own fault.\nLengths on the command line carry a unit: 50mm, 2in.\n\nA proof speaks of the \
motion under the assumptions printed with it. Verify every program: dry run above the part, single block, guards shut.";

#[derive(Debug, Subcommand)]
pub enum Verb {
    /// Types and proves all routines and jobs at and below the paths
    Check(Check),
    /// Rechecks certificates against the source, without the prover
    Verify(Verify),
    /// Writes programs for a machine, only when all is proved
    Build(Build),
    /// Runs a program on the virtual controller and prints what it did
    Run(Run),
    /// Prints what a diagnostic means and what to do; without a code, lists them all
    Explain(Explain),
    /// Lists the built-in machines, or prints the file of one
    Machines(Machines),
    /// Formats source texts in place
    Fmt(Fmt),
    /// Prints a completion script for a shell
    Completions {
        /// For which shell
        shell: Shell,
    },
}

#[derive(Debug, Args)]
pub struct Check {
    /// Files that end in .bore, or directories to search for them
    #[arg(required = true, value_name = "PATH")]
    pub paths: Vec<String>,
    /// For people or for programs
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
    /// Looks for more that may be bettered; takes longer
    #[arg(long, value_enum, value_name = "WHAT")]
    pub lint: Vec<Lint>,
    /// Writes a certificate for each obligation and a manifest of all into this directory
    #[arg(long, value_name = "DIR")]
    pub certificate: Option<String>,
    /// Writes each obligation in SMT-LIB 2, for other solvers, into this directory
    #[arg(long, value_name = "DIR")]
    pub smt2: Option<String>,
    /// Prints what one step of the compiler makes of the files instead (for developers)
    #[arg(long, value_enum, value_name = "STEP", conflicts_with = "format")]
    pub dump: Option<Dump>,
}

#[derive(Debug, Args)]
pub struct Verify {
    /// The directory with the certificates and their manifest
    #[arg(value_name = "DIR")]
    pub directory: String,
    /// Files that end in .bore, or directories to search for them: what the certificates must be about
    ///
    /// Where `build` has written them: its programs, or their directory, too.
    #[arg(long, required = true, num_args = 1.., value_name = "PATH")]
    pub against: Vec<String>,
    /// For people or for programs
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

#[derive(Debug, Args)]
pub struct Build {
    /// The source text
    #[arg(value_name = "FILE")]
    pub file: String,
    /// One program for any size with numbered variables, or plain blocks for one size
    #[arg(long, value_enum)]
    pub form: Form,
    /// A built-in machine, or the path of a machine file
    #[arg(long, value_name = "NAME|FILE")]
    pub machine: String,
    /// Into this directory
    #[arg(long, value_name = "DIR")]
    pub out: String,
    /// Only this routine or job; may be given several times
    #[arg(long, value_name = "NAME")]
    pub routine: Vec<String>,
    /// The value of a parameter, with its unit; may be given several times
    #[arg(long, value_name = "NAME=VALUE")]
    pub set: Vec<String>,
    /// Writes a certificate for each obligation, those of the programs' texts among them, into this directory
    #[arg(long, value_name = "DIR")]
    pub certificate: Option<String>,
    /// For people or for programs
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

#[derive(Debug, Args)]
pub struct Run {
    /// The program
    #[arg(value_name = "FILE")]
    pub file: String,
    /// A built-in machine, or the path of a machine file
    #[arg(long, value_name = "NAME|FILE")]
    pub machine: Option<String>,
    /// The block that calls the program, such as "G65 P1 B50. D20."
    ///
    /// The run begins as a caller leaves the machine: length offset on, spindle turning clockwise. May be given several
    /// times: the blocks before the last one run first, such as --call G49. A file without O number answers to any P.
    #[arg(long, value_name = "BLOCK")]
    pub call: Vec<String>,
    /// A numbered variable before the start, such as "#101=50"; may be given several times
    #[arg(long, value_name = "#N=VALUE")]
    pub set: Vec<String>,
    /// A cutter offset for G41 and G42, as the machine keeps it (radius or diameter), such as "1=0.05mm" for D1; may be
    /// given several times
    #[arg(long, value_name = "D=LENGTH")]
    pub offset: Vec<String>,
    /// A further program that may be called; may be given several times
    #[arg(long, value_name = "FILE")]
    pub with: Vec<String>,
    /// For people, for programs, or as a table
    #[arg(long, value_enum, default_value_t)]
    pub format: TraceFormat,
}

#[derive(Debug, Args)]
pub struct Explain {
    /// A code such as S0101, or its name
    pub code: Option<String>,
    /// For people or for programs
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

#[derive(Debug, Args)]
pub struct Machines {
    /// Which one to print
    pub name: Option<String>,
    /// Prints the JSON schema of machine files
    #[arg(long, conflicts_with = "name")]
    pub schema: bool,
    /// For people or for programs
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

#[derive(Debug, Args)]
pub struct Fmt {
    /// Files that end in .bore, or directories to search for them
    #[arg(required = true, value_name = "PATH")]
    pub paths: Vec<String>,
    /// Writes nothing; exit status 1 if a file is not formatted
    #[arg(long)]
    pub check: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, ValueEnum)]
pub enum Format {
    /// Text
    #[default]
    Human,
    /// JSON on standard output, and nothing else there
    Json,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, ValueEnum)]
pub enum TraceFormat {
    /// Text
    #[default]
    Human,
    /// JSON on standard output, and nothing else there
    Json,
    /// One line a move
    Csv,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Lint {
    /// Requirements that could be weaker, with the weaker form
    Requirements,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Form {
    /// Numbered variables
    Macro,
    /// Everything computed
    Blocks,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Dump {
    /// Tokens
    Tokens,
    /// The untyped tree
    Ast,
    /// Typed routines
    Routine,
    /// The motion
    Motion,
    /// Obligations
    Goals,
}
