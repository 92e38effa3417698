use super::sample::{checked, finding, missing, near, thin};
use crate::check::Outcome;
use crate::report::{Format, Options, Printer};
use crate::rules::Stage;

pub fn options(format: Format, width: usize) -> Options {
    Options { format, width, colour: false, all: false, details: false, many: false }
}

fn printed(options: Options, findings: Vec<crate::check::Finding>) -> String {
    let mut printer = Printer::new(options, Stage::SelfCheck);
    let record = printer.record(options.piece(&checked(findings)));
    format!("{record}{}", printer.finish())
}

fn sample() -> Vec<crate::check::Finding> {
    vec![near(), thin(), finding(1, 2, Outcome::Conforms), finding(1, 2, Outcome::NotApplicable)]
}

#[test]
fn a_person_reads_the_worst_first_at_80_columns() {
    let text = printed(options(Format::Human, 80), sample());
    println!("{text}");
    println!("{}", printed(options(Format::Human, 130), sample()));
    println!("{}", printed(options(Format::Human, 60), sample()));
    println!("{}", printed(options(Format::Human, 80), vec![missing(1), missing(2)]));
    println!("{}", printed(options(Format::Plain, 80), sample()));
    println!("{}", printed(options(Format::Json, 80), sample()));
    println!("{}", printed(options(Format::Junit, 80), sample()));
    panic!();
}
