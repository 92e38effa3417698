//! What the questions of a comparison cost, counted and not timed: the measure of proofs has its class from the same file
//! as these, and where one of its questions goes astray it shows here first.

use rimegauge::prove::{Proved, Questions, solve::Work};
use rimegauge::rules::{self, RulesFile};

#[path = "../../benches/proofs_of/class.rs"]
mod class;

/// No question of the class costs more; each number is about twice what the hardest one costs.
const MOST: Work = Work {
    solved: 120,
    conflicts: 250,
    decisions: 15_000,
    pivots: 2_500,
    steps: 30_000,
};

fn loaded(new: bool) -> RulesFile {
    rules::load("mere-9.yaml", class::text(new).as_bytes()).unwrap()
}

#[test]
fn no_question_about_two_hundred_rules_is_hard() {
    let [old, new] = [false, true].map(loaded);
    let questions = Questions::of(&old, &new);
    assert!(questions.len() > 2 * class::RULES);
    let mut hardest = Work::default();
    for at in 0..questions.len() {
        let (answer, work) = questions.answer_with_work(at).unwrap();
        let about = questions.about(at).unwrap();
        assert!(
            !matches!(answer, Proved::Unknown(_)),
            "{about:?}: {answer:?}"
        );
        let is_little = work.solved <= MOST.solved
            && work.conflicts <= MOST.conflicts
            && work.decisions <= MOST.decisions
            && work.pivots <= MOST.pivots
            && work.steps <= MOST.steps;
        assert!(is_little, "{about:?} costs {work:?}");
        hardest = Work {
            solved: hardest.solved.max(work.solved),
            conflicts: hardest.conflicts.max(work.conflicts),
            decisions: hardest.decisions.max(work.decisions),
            pivots: hardest.pivots.max(work.pivots),
            steps: hardest.steps.max(work.steps),
        };
        // The same question costs the same.
        if at % 50 == 0 {
            assert_eq!(questions.answer_with_work(at).unwrap(), (answer, work));
        }
    }
    println!("the hardest: {hardest:?}");
}
