//! Clauses in one store, and what follows from them by unit propagation with two watched literals.
//!
//! Source: N. Eén, N. Sörensson, "An extensible SAT-solver", SAT 2003.

use super::Literal;

/// No clause: a decision, or a fact.
pub(super) const NO_CLAUSE: u32 = u32::MAX;
const BINARY: u32 = 1 << 31;

#[derive(Clone, Copy, Debug)]
struct Watch {
    clause: u32,
    /// Another literal of the clause: while it holds, the clause needs no visit.
    other: Literal,
}

#[derive(Clone, Copy, Debug)]
pub(super) struct Clause {
    start: u32,
    len: u32,
    /// For a learnt clause: from how many levels its literals came when it was learnt.
    pub(super) levels: u32,
    pub(super) learnt: bool,
}

/// Clauses, the assignment, and its history.
#[derive(Debug)]
pub(super) struct Clauses {
    literals: Vec<Literal>,
    pub(super) heads: Vec<Clause>,
    watches: Vec<Vec<Watch>>,
    /// By literal: 1 holds, −1 does not, 0 open.
    pub(super) truth: Vec<i8>,
    pub(super) level: Vec<u32>,
    pub(super) reason: Vec<u32>,
    pub(super) trail: Vec<Literal>,
    /// Where the trail stood when each level began.
    pub(super) levels: Vec<u32>,
    next: usize,
    pub(super) learnt: usize,
}

impl Clauses {
    pub(super) fn new() -> Clauses {
        Clauses {
            literals: Vec::new(),
            heads: Vec::new(),
            watches: Vec::new(),
            truth: Vec::new(),
            level: Vec::new(),
            reason: Vec::new(),
            trail: Vec::new(),
            levels: Vec::new(),
            next: 0,
            learnt: 0,
        }
    }

    pub(super) fn push_variable(&mut self) -> u32 {
        let variable = self.level.len() as u32;
        self.level.push(0);
        self.reason.push(NO_CLAUSE);
        for _ in 0..2 {
            self.truth.push(0);
            self.watches.push(Vec::new());
        }
        variable
    }

    #[inline]
    pub(super) fn truth(&self, literal: Literal) -> i8 {
        self.truth[literal.index()]
    }

    pub(super) fn depth(&self) -> u32 {
        self.levels.len() as u32
    }

    #[inline]
    pub(super) fn assign(&mut self, literal: Literal, reason: u32) {
        self.truth[literal.index()] = 1;
        self.truth[(!literal).index()] = -1;
        let variable = literal.variable() as usize;
        self.level[variable] = self.levels.len() as u32;
        self.reason[variable] = reason;
        self.trail.push(literal);
    }

    pub(super) fn literals(&self, clause: u32) -> &[Literal] {
        let head = self.heads[clause as usize];
        &self.literals[head.start as usize..(head.start + head.len) as usize]
    }

    /// Stores a clause of at least two literals and watches its first two.
    pub(super) fn store(&mut self, clause: &[Literal], learnt: bool, levels: u32) -> u32 {
        let index = self.heads.len() as u32;
        self.heads.push(Clause {
            start: self.literals.len() as u32,
            len: clause.len() as u32,
            levels,
            learnt,
        });
        self.literals.extend_from_slice(clause);
        self.learnt += usize::from(learnt);
        self.watch(index);
        index
    }

    fn watch(&mut self, index: u32) {
        let literals = self.literals(index);
        let &[first, second, ..] = literals else {
            return;
        };
        let mark = if literals.len() == 2 { BINARY } else { 0 };
        for (own, other) in [(first, second), (second, first)] {
            self.watches[own.index()].push(Watch {
                clause: index | mark,
                other,
            });
        }
    }

    /// Assigns what follows; the clause that nothing can satisfy any more, if there is one.
    pub(super) fn propagate(&mut self) -> Option<u32> {
        while let Some(&literal) = self.trail.get(self.next) {
            self.next += 1;
            let off = !literal;
            let mut watches = std::mem::take(&mut self.watches[off.index()]);
            let mut kept = 0;
            let mut at = 0;
            let mut conflict = None;
            while at < watches.len() {
                let watch = watches[at];
                at += 1;
                let truth = self.truth(watch.other);
                if truth > 0 {
                    watches[kept] = watch;
                    kept += 1;
                    continue;
                }
                let clause = watch.clause & !BINARY;
                if watch.clause & BINARY != 0 {
                    watches[kept] = watch;
                    kept += 1;
                    if truth < 0 {
                        conflict = Some(clause);
                        break;
                    }
                    self.assign(watch.other, clause);
                    continue;
                }
                let head = self.heads[clause as usize];
                let start = head.start as usize;
                let end = start + head.len as usize;
                if self.literals[start] == off {
                    self.literals.swap(start, start + 1);
                }
                let first = self.literals[start];
                let watch = Watch {
                    clause,
                    other: first,
                };
                if self.truth(first) > 0 {
                    watches[kept] = watch;
                    kept += 1;
                    continue;
                }
                let free = (start + 2..end).find(|&at| self.truth(self.literals[at]) >= 0);
                if let Some(free) = free {
                    self.literals.swap(start + 1, free);
                    let now = self.literals[start + 1];
                    self.watches[now.index()].push(watch);
                    continue;
                }
                watches[kept] = watch;
                kept += 1;
                if self.truth(first) < 0 {
                    conflict = Some(clause);
                    break;
                }
                self.assign(first, clause);
            }
            if kept < at {
                watches.copy_within(at.., kept);
                watches.truncate(kept + watches.len() - at);
            }
            self.watches[off.index()] = watches;
            if conflict.is_some() {
                self.next = self.trail.len();
                return conflict;
            }
        }
        None
    }

    /// Takes back the last assignment of the trail, while it is longer than `len`.
    pub(super) fn take_back(&mut self, len: usize) -> Option<Literal> {
        if self.trail.len() <= len {
            self.next = self.next.min(len);
            return None;
        }
        let literal = self.trail.pop()?;
        self.truth[literal.index()] = 0;
        self.truth[(!literal).index()] = 0;
        Some(literal)
    }

    /// At level 0 and with everything propagated: drops what holds for ever, literals that never hold, and of the learnt
    /// clauses the half that ties most levels together, the older of equals first.
    pub(super) fn tidy(&mut self) {
        let mut ranks: Vec<(u32, std::cmp::Reverse<usize>)> = Vec::new();
        for (index, head) in self.heads.iter().enumerate() {
            if head.learnt && head.levels > 2 && head.len > 2 {
                ranks.push((head.levels, std::cmp::Reverse(index)));
            }
        }
        ranks.sort_unstable();
        let mut dropped = vec![false; self.heads.len()];
        for (_, index) in ranks.iter().skip(ranks.len() / 2) {
            dropped[index.0] = true;
        }
        let heads = std::mem::take(&mut self.heads);
        let literals = std::mem::take(&mut self.literals);
        for watches in &mut self.watches {
            watches.clear();
        }
        for &literal in &self.trail {
            self.reason[literal.variable() as usize] = NO_CLAUSE;
        }
        self.learnt = 0;
        let mut clause = Vec::new();
        for (head, dropped) in heads.iter().zip(dropped) {
            let own = &literals[head.start as usize..(head.start + head.len) as usize];
            if dropped || own.iter().any(|&literal| self.truth(literal) > 0) {
                continue;
            }
            clause.clear();
            clause.extend(own.iter().filter(|&&literal| self.truth(literal) == 0));
            self.store(&clause, head.learnt, head.levels);
        }
    }
}
