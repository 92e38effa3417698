//! Which variable is decided next: of the open ones the one that a conflict was about last. Before any conflict the oldest.
//!
//! A queue in which what a conflict was about moves to the front. Source: A. Biere, A. Fröhlich, "Evaluating CDCL
//! variable scoring schemes", SAT 2015, section 4, "VMTF". Whole numbers only, so that a search takes the same way on every
//! machine.

const NOBODY: u32 = u32::MAX;

/// All variables in a row, and where the search for an open one begins.
#[derive(Debug)]
pub(super) struct Order {
    /// By variable: the one behind it and the one before it.
    behind: Vec<u32>,
    before: Vec<u32>,
    /// By variable: greater for one further to the front.
    rank: Vec<i64>,
    front: u32,
    back: u32,
    /// No variable before this one is open.
    start: u32,
    best: i64,
}

impl Order {
    pub(super) fn new() -> Order {
        Order {
            behind: Vec::new(),
            before: Vec::new(),
            rank: Vec::new(),
            front: NOBODY,
            back: NOBODY,
            start: NOBODY,
            best: 0,
        }
    }

    /// One more variable, at the back.
    pub(super) fn push_variable(&mut self) {
        let variable = self.rank.len() as u32;
        let rank = -i64::from(variable);
        self.rank.push(rank);
        self.behind.push(NOBODY);
        self.before.push(self.back);
        match self.back {
            NOBODY => self.front = variable,
            back => self.behind[back as usize] = variable,
        }
        self.back = variable;
        if self.start == NOBODY {
            self.start = variable;
        }
    }

    /// A variable is open again.
    #[inline]
    pub(super) fn reopen(&mut self, variable: u32) {
        if self.start == NOBODY || self.rank[variable as usize] > self.rank[self.start as usize] {
            self.start = variable;
        }
    }

    /// The first that is open.
    pub(super) fn first(&mut self, is_open: impl Fn(u32) -> bool) -> Option<u32> {
        while self.start != NOBODY {
            if is_open(self.start) {
                return Some(self.start);
            }
            self.start = self.behind[self.start as usize];
        }
        None
    }

    /// Moves variables to the front, in the order in which they stand. None of them need be open: those that are not are
    /// opened again by going back.
    pub(super) fn bump(&mut self, variables: &mut [u32]) {
        variables.sort_unstable_by_key(|&variable| self.rank[variable as usize]);
        for &mut variable in variables {
            if self.front == variable {
                continue;
            }
            let (before, behind) = (
                self.before[variable as usize],
                self.behind[variable as usize],
            );
            if self.start == variable {
                self.start = behind;
            }
            if before != NOBODY {
                self.behind[before as usize] = behind;
            }
            match behind {
                NOBODY => self.back = before,
                behind => self.before[behind as usize] = before,
            }
            self.before[variable as usize] = NOBODY;
            self.behind[variable as usize] = self.front;
            self.before[self.front as usize] = variable;
            self.front = variable;
            self.best += 1;
            self.rank[variable as usize] = self.best;
        }
    }
}
