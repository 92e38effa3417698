//! Which variable is decided next: the one that conflicts were lately about. Scores are whole numbers, and among equals
//! the older variable comes first, so that a search takes the same way on every machine.

const NOWHERE: u32 = u32::MAX;
/// Scores above this are scaled down, all of them.
const GREATEST: u64 = 1 << 60;

/// Variables in a heap by score.
#[derive(Debug)]
pub(super) struct Order {
    score: Vec<u64>,
    heap: Vec<u32>,
    place: Vec<u32>,
    step: u64,
}

impl Order {
    pub(super) fn new() -> Order {
        Order {
            score: Vec::new(),
            heap: Vec::new(),
            place: Vec::new(),
            step: 1 << 10,
        }
    }

    /// One more variable, to be decided.
    pub(super) fn push_variable(&mut self) {
        let variable = self.score.len() as u32;
        self.score.push(0);
        self.place.push(NOWHERE);
        self.insert(variable);
    }

    pub(super) fn insert(&mut self, variable: u32) {
        if self.place[variable as usize] == NOWHERE {
            self.place[variable as usize] = self.heap.len() as u32;
            self.heap.push(variable);
            self.rise(self.heap.len() - 1);
        }
    }

    /// The first, taken out.
    pub(super) fn pop(&mut self) -> Option<u32> {
        let first = *self.heap.first()?;
        self.place[first as usize] = NOWHERE;
        let last = self.heap.pop()?;
        if last != first {
            self.heap[0] = last;
            self.place[last as usize] = 0;
            self.sink(0);
        }
        Some(first)
    }

    /// A conflict was about it.
    pub(super) fn bump(&mut self, variable: u32) {
        let score = &mut self.score[variable as usize];
        *score += self.step;
        if *score > GREATEST {
            for score in &mut self.score {
                *score >>= 40;
            }
            self.step = (self.step >> 40).max(1 << 10);
        }
        let place = self.place[variable as usize];
        if place != NOWHERE {
            self.rise(place as usize);
        }
    }

    /// What conflicts were about earlier counts for less: by 1/16 with each conflict.
    pub(super) fn decay(&mut self) {
        self.step += self.step >> 4;
    }

    fn before(&self, a: u32, b: u32) -> bool {
        let (first, second) = (self.score[a as usize], self.score[b as usize]);
        first > second || (first == second && a < b)
    }

    fn rise(&mut self, mut at: usize) {
        let variable = self.heap[at];
        while at > 0 {
            let parent = (at - 1) / 2;
            let above = self.heap[parent];
            if !self.before(variable, above) {
                break;
            }
            self.heap[at] = above;
            self.place[above as usize] = at as u32;
            at = parent;
        }
        self.heap[at] = variable;
        self.place[variable as usize] = at as u32;
    }

    fn sink(&mut self, mut at: usize) {
        let variable = self.heap[at];
        loop {
            let mut child = 2 * at + 1;
            if child >= self.heap.len() {
                break;
            }
            if child + 1 < self.heap.len() && self.before(self.heap[child + 1], self.heap[child]) {
                child += 1;
            }
            let below = self.heap[child];
            if !self.before(below, variable) {
                break;
            }
            self.heap[at] = below;
            self.place[below as usize] = at as u32;
            at = child;
        }
        self.heap[at] = variable;
        self.place[variable as usize] = at as u32;
    }
}
