//! The search: decisions, conflicts, what is learnt from them, and which assumptions were at fault.
//!
//! Source: J. P. Marques-Silva, K. A. Sakallah, "GRASP", IEEE Transactions on Computers 48 (1999), for clauses learnt at
//! the first unique implication point; N. Eén, N. Sörensson, "An extensible SAT-solver", SAT 2003, for assumptions and
//! cores; M. Luby, A. Sinclair, D. Zuckerman, "Optimal speedup of Las Vegas algorithms", Information Processing Letters 47
//! (1993), for restarts.

use super::clauses::NO_CLAUSE;
use super::simplex::{Checked, NONE};
use super::{Answer, Literal, Solver};

/// Conflicts between restarts, times a number of Luby's sequence.
const RESTART: u64 = 64;

/// What became of a partial assignment.
enum Step {
    Open,
    /// In `conflict`: literals of which one would have to hold.
    Conflict,
    GaveUp,
}

impl Solver {
    /// Goes back to a level.
    pub(super) fn back_to(&mut self, depth: u32) {
        let Some(&len) = self.clauses.levels.get(depth as usize) else {
            return;
        };
        self.held = false;
        while let Some(literal) = self.clauses.take_back(len as usize) {
            let variable = literal.variable();
            self.phase[variable as usize] = !literal.is_negated();
            self.order.reopen(variable);
        }
        if let Some(&mark) = self.marks.get(depth as usize) {
            self.simplex.undo_to(mark);
        }
        self.clauses.levels.truncate(depth as usize);
        self.marks.truncate(depth as usize);
        self.told = self.told.min(len as usize);
    }

    fn deeper(&mut self) {
        self.clauses.levels.push(self.clauses.trail.len() as u32);
        self.marks.push(self.simplex.mark());
    }

    /// Propagates clauses, and tells the simplex the bounds that now hold.
    fn propagate(&mut self) -> Step {
        if let Some(clause) = self.clauses.propagate() {
            self.conflict.clear();
            self.conflict
                .extend_from_slice(self.clauses.literals(clause));
            return Step::Conflict;
        }
        while let Some(&literal) = self.clauses.trail.get(self.told) {
            self.told += 1;
            let atom = self.atom_of[literal.variable() as usize];
            if atom != NONE {
                self.simplex.assert(atom, !literal.is_negated());
            }
        }
        match self.simplex.check(self.most_steps, self.limits.bits) {
            Checked::Holds => Step::Open,
            Checked::GaveUp => Step::GaveUp,
            Checked::Conflict => {
                self.conflict.clear();
                self.conflict.extend_from_slice(&self.simplex.conflict);
                Step::Conflict
            }
        }
    }

    pub(super) fn search(&mut self, assumptions: &[Literal]) -> Answer {
        let mut conflicts = 0;
        let mut restarts = 0;
        let mut until = RESTART;
        self.most_steps = self.simplex.steps.saturating_add(self.limits.steps);
        self.simplex.bits = 0;
        loop {
            match self.propagate() {
                Step::GaveUp => {
                    self.back_to(0);
                    return Answer::GaveUp;
                }
                Step::Conflict => {
                    conflicts += 1;
                    self.work.conflicts += 1;
                    if !self.learn() {
                        self.contradictory = true;
                        return Answer::Unsatisfiable(Vec::new());
                    }
                    if conflicts > self.limits.conflicts {
                        self.back_to(0);
                        return Answer::GaveUp;
                    }
                    continue;
                }
                Step::Open => {}
            }
            if conflicts >= until {
                restarts += 1;
                until = conflicts + RESTART * luby(restarts);
                if self.clauses.learnt > self.most_learnt {
                    self.back_to(0);
                    if matches!(self.propagate(), Step::Open) {
                        self.clauses.tidy();
                        self.most_learnt += self.most_learnt / 4;
                    }
                } else {
                    self.back_to(assumptions.len() as u32);
                }
                continue;
            }
            if let Some(&assumption) = assumptions.get(self.clauses.levels.len()) {
                match self.clauses.truth(assumption) {
                    1 => self.deeper(),
                    -1 => {
                        let core = self.core(assumption);
                        self.back_to(0);
                        return Answer::Unsatisfiable(core);
                    }
                    _ => {
                        self.deeper();
                        self.clauses.assign(assumption, NO_CLAUSE);
                    }
                }
                continue;
            }
            match self.next_decision() {
                Some(decision) => {
                    self.work.decisions += 1;
                    self.deeper();
                    self.clauses.assign(decision, NO_CLAUSE);
                }
                None => {
                    self.keep_model();
                    return Answer::Satisfiable;
                }
            }
        }
    }

    fn next_decision(&mut self) -> Option<Literal> {
        let truth = &self.clauses.truth;
        let is_open = |variable| truth[Literal::of(variable, false).index()] == 0;
        let variable = self.order.first(is_open)?;
        let holds = match self.polarity[variable as usize] {
            Some(holds) => holds,
            // The side on which the number lies anyway is free of charge.
            None => match self.atom_of[variable as usize] {
                NONE => self.phase[variable as usize],
                atom => self.simplex.holds_now(atom),
            },
        };
        Some(Literal::of(variable, !holds))
    }

    /// Learns a clause from the conflict, goes back and assigns what it says; `false` when nothing is left to give up.
    fn learn(&mut self) -> bool {
        let conflict = std::mem::take(&mut self.conflict);
        let deepest = conflict
            .iter()
            .map(|literal| self.clauses.level[literal.variable() as usize])
            .max()
            .unwrap_or(0);
        if deepest == 0 {
            return false;
        }
        self.back_to(deepest);
        let mut learnt = std::mem::take(&mut self.learnt);
        learnt.clear();
        learnt.push(Literal::TRUE);
        let mut open = 0;
        for &literal in &conflict {
            open += u32::from(self.meet(literal, &mut learnt));
        }
        let mut at = self.clauses.trail.len();
        let first = loop {
            at -= 1;
            let literal = self.clauses.trail[at];
            let variable = literal.variable() as usize;
            if !self.seen[variable] {
                continue;
            }
            self.seen[variable] = false;
            open -= 1;
            if open == 0 {
                break literal;
            }
            let reason = self.clauses.reason[variable];
            for at in 0..self.clauses.literals(reason).len() {
                let other = self.clauses.literals(reason)[at];
                if other != literal {
                    open += u32::from(self.meet(other, &mut learnt));
                }
            }
        };
        learnt[0] = !first;
        self.order.bump(&mut self.bumped);
        self.bumped.clear();
        self.shorten(&mut learnt);
        let mut back = 0;
        for at in 1..learnt.len() {
            let level = self.clauses.level[learnt[at].variable() as usize];
            if level > back {
                back = level;
                learnt.swap(1, at);
            }
        }
        let levels = self.count_levels(&learnt);
        self.back_to(back);
        let reason = if learnt.len() == 1 {
            NO_CLAUSE
        } else {
            self.clauses.store(&learnt, true, levels)
        };
        self.clauses.assign(learnt[0], reason);
        self.learnt = learnt;
        self.conflict = conflict;
        true
    }

    /// A literal of a reason: whether it is one of the deepest level; others go into the learnt clause.
    fn meet(&mut self, literal: Literal, learnt: &mut Vec<Literal>) -> bool {
        let variable = literal.variable();
        let level = self.clauses.level[variable as usize];
        if self.seen[variable as usize] || level == 0 {
            return false;
        }
        self.seen[variable as usize] = true;
        self.bumped.push(variable);
        if level == self.clauses.depth() {
            return true;
        }
        learnt.push(literal);
        false
    }

    /// Leaves out literals that follow from the others.
    fn shorten(&mut self, learnt: &mut Vec<Literal>) {
        let all = std::mem::take(&mut self.scratch);
        let mut all = all;
        all.clear();
        all.extend_from_slice(learnt);
        learnt.retain(|literal| {
            let reason = self.clauses.reason[literal.variable() as usize];
            let follows = literal.index() != all[0].index()
                && reason != NO_CLAUSE
                && self.clauses.literals(reason).iter().all(|other| {
                    let variable = other.variable() as usize;
                    variable == literal.variable() as usize
                        || self.seen[variable]
                        || self.clauses.level[variable] == 0
                });
            !follows
        });
        for literal in &all {
            self.seen[literal.variable() as usize] = false;
        }
        self.scratch = all;
    }

    fn count_levels(&mut self, clause: &[Literal]) -> u32 {
        self.stamp += 1;
        let mut levels = 0;
        for literal in clause {
            let level = self.clauses.level[literal.variable() as usize] as usize;
            if self.stamps.len() <= level {
                self.stamps.resize(level + 1, 0);
            }
            if self.stamps[level] != self.stamp {
                self.stamps[level] = self.stamp;
                levels += 1;
            }
        }
        levels
    }

    /// The assumptions that, with the clauses, exclude this one; and it itself.
    fn core(&mut self, assumption: Literal) -> Vec<Literal> {
        let mut core = vec![assumption];
        let variable = assumption.variable() as usize;
        if self.clauses.level[variable] == 0 {
            return core;
        }
        self.seen[variable] = true;
        let start = self.clauses.levels.first().copied().unwrap_or(0) as usize;
        for at in (start..self.clauses.trail.len()).rev() {
            let literal = self.clauses.trail[at];
            let variable = literal.variable() as usize;
            if !self.seen[variable] {
                continue;
            }
            self.seen[variable] = false;
            let reason = self.clauses.reason[variable];
            if reason == NO_CLAUSE {
                // A decision, and until all assumptions hold every decision is one.
                if literal != assumption {
                    core.push(literal);
                }
                continue;
            }
            for other in self.clauses.literals(reason) {
                let other = other.variable() as usize;
                if self.clauses.level[other] > 0 {
                    self.seen[other] = true;
                }
            }
            self.seen[variable] = false;
        }
        core
    }
}

/// Luby's sequence from its first number: 1 1 2 1 1 2 4 …
fn luby(index: u64) -> u64 {
    let mut index = index.max(1);
    loop {
        let bits = 64 - index.leading_zeros();
        if index == (1 << bits) - 1 {
            return 1 << (bits - 1);
        }
        index -= (1 << (bits - 1)) - 1;
    }
}
