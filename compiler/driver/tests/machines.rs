//! Machine files by name: built in, at a path, or beside the job.

use borewright_driver::BuildOrder;
use borewright_driver::{Form, MemoryHost, build};

const JOB: &str = "routine away(cut: feed in 10mm/min..1000mm/min = 100mm/min) {
    retract
    rapid to centre
    rapid to z 50mm
    feed cut
    line to (100mm, 100mm) z 100mm
    retract
}
";

fn built(machine: &str, at: &str) -> Result<String, Vec<String>> {
    let host = MemoryHost::new([
        ("jobs/part.bore", JOB),
        (at, "name = \"our-mill\"\nlike = \"blocks-mm\"\n"),
        ("jobs/bad.toml", "units = \"ell\"\n"),
    ]);
    let order = BuildOrder {
        file: "jobs/part.bore".to_owned(),
        form: Form::Blocks,
        machine: machine.to_owned(),
        routines: Vec::new(),
        set: Vec::new(),
    };
    let built = build(&host, &order);
    let names: Vec<_> = built.programs.iter().map(|p| p.machine.clone()).collect();
    let faults = built.found.iter().map(|d| d.code.number.to_owned()).collect();
    names.into_iter().next().ok_or(faults)
}

#[test]
fn a_machine_file_beside_the_job_is_found_by_its_name() {
    assert_eq!(built("mill", "jobs/mill.toml"), Ok("our-mill".to_owned()));
    assert_eq!(built("mill.toml", "jobs/mill.toml"), Ok("our-mill".to_owned()));
    assert_eq!(built("blocks-mm", "jobs/blocks-mm.toml"), Ok("blocks-mm".to_owned()));
}

#[test]
fn a_path_as_it_is_written_wins_and_what_is_wrong_is_told() {
    assert_eq!(built("shop/mill.toml", "shop/mill.toml"), Ok("our-mill".to_owned()));
    assert_eq!(built("bad", "jobs/mill.toml"), Err(vec!["E0703".to_owned()]));
    assert!(built("lathe", "jobs/mill.toml").is_err());
}
