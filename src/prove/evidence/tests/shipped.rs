use super::super::super::book::Book;
use super::super::super::search::Under;
use super::super::super::start::start;
use super::*;

fn by_proof(old: &Arc<RulesFile>, new: &Arc<RulesFile>) -> Evidence {
    let book = Book::of(Common::of(old, new));
    let both = Under {
        old: true,
        new: true,
    };
    let start = start(&book, both).ok();
    let (old_plan, new_plan) = (
        Plan::compile(Arc::clone(old)),
        Plan::compile(Arc::clone(new)),
    );
    evidence_by_proof(&book, start.as_ref(), (&old_plan, &new_plan))
}

#[test]
fn look() {
    for (class, old, new) in [
        ("tarn-8", "2.4.0", "3.0.0"),
        ("tarn-8", "3.0.0", "3.1.0"),
        ("tarn-8", "3.1.0", "4.0.0"),
        ("ghyll-2", "1.0.0", "2.0.0"),
    ] {
        let read = |version: &str| {
            let name = format!("rules/{class}/{version}.yaml");
            rules(&name, &data(&name))
        };
        let now = std::time::Instant::now();
        let found = by_proof(&read(old), &read(new));
        println!("{old} {new} {} {:?}", shown(&found), now.elapsed());
    }
}
