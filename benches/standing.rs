//! Standing shorts of a whole club layout: 200 power-routing turnouts and 30 drivers, each driver and each pair of
//! drivers asked about.
//!
//! Run with `cargo bench --no-default-features --bench standing`.
//!
//! Two mains of 12 blocks, a passing siding in every block, 22 crossovers' turnouts in pairs between the mains, six yards
//! of ten tracks with a ladder at both ends. Every frog can be told apart from what lies beyond it by a cut; a share of
//! those cuts, and of the cuts between blocks, was forgotten. Another bench has 60 blocks on cab selectors of 30 positions.

use gapwright::rails::standing::{Budget, Switched, SwitchedEdge, prepare};

fn main() {
    for forgotten in FORGOTTEN {
        let club = Club::of(forgotten);
        println!("{forgotten} % of cuts forgotten: {} turnouts, {}", club.turnouts(), ask(&club));
    }
    println!("cab selectors: {}", ask(&cabs()));
    divan::main();
}

/// Cuts not made, in percent.
const FORGOTTEN: [u64; 6] = [0, 10, 25, 50, 75, 100];
/// Steps for each question.
const BUDGET: Budget = Budget { steps: 200_000 };

#[derive(Default)]
struct Club {
    metal: Switched,
    /// The two rails of each driver.
    drivers: Vec<[usize; 2]>,
    forgotten: u64,
    dice: u64,
}

impl Club {
    fn turnouts(&self) -> usize {
        self.metal.positions.len()
    }

    fn node(&mut self) -> usize {
        self.metal.nodes += 1;
        self.metal.nodes - 1
    }

    fn driver(&mut self) -> [usize; 2] {
        let rails = [self.node(), self.node()];
        self.drivers.push(rails);
        rails
    }

    fn join(&mut self, ends: [usize; 2], when: Option<(usize, u64)>) {
        self.metal.edges.push(SwitchedEdge { ends, when });
    }

    /// A cut between two ends, unless it was forgotten.
    fn cut(&mut self, a: usize, b: usize) {
        // A linear congruential generator (Knuth's MMIX constants, from memory): any even spread will do.
        self.dice = self.dice.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
        if (self.dice >> 33) % 100 < self.forgotten {
            self.join([a, b], None);
        }
    }

    /// A frog, at the first rail when set straight and at the second when set diverging.
    fn frog(&mut self, straight: usize, diverging: usize) -> usize {
        let (frog, selector) = (self.node(), self.metal.positions.len());
        self.metal.positions.push(2);
        self.join([frog, straight], Some((selector, 0b01)));
        self.join([frog, diverging], Some((selector, 0b10)));
        frog
    }

    fn siding(&mut self, [left, right]: [usize; 2]) {
        let inner = self.node();
        for _ in 0..2 {
            let frog = self.frog(right, left);
            self.cut(frog, right);
            self.cut(frog, inner);
        }
    }

    fn crossover(&mut self, one: [usize; 2], other: [usize; 2]) {
        let frog = self.frog(one[1], one[0]);
        self.cut(frog, one[1]);
        self.cut(frog, other[0]);
        let frog = self.frog(other[0], other[1]);
        self.cut(frog, other[0]);
        self.cut(frog, one[1]);
    }

    fn yard(&mut self, [left, right]: [usize; 2]) {
        let mut toes = [left, left];
        for _ in 0..9 {
            let frogs = toes.map(|toe| self.frog(right, toe));
            self.cut(toes[0], toes[1]);
            self.cut(frogs[0], frogs[1]);
            toes = frogs;
        }
    }

    fn of(forgotten: u64) -> Club {
        let mut club = Club { forgotten, dice: 7, ..Club::default() };
        let mains = [0, 1].map(|_| [(); 12].map(|()| club.driver()));
        for main in mains {
            for (k, &block) in main.iter().enumerate() {
                club.siding(block);
                let next = main[(k + 1) % main.len()];
                club.cut(block[0], next[0]);
                club.cut(block[1], next[1]);
            }
        }
        for k in 0..22 {
            club.crossover(mains[0][k % 12], mains[1][k % 12]);
        }
        for k in 0..6 {
            let lead = club.driver();
            club.yard(lead);
            let main = mains[k % 2][2 * k];
            club.cut(lead[0], main[0]);
            club.cut(lead[1], main[1]);
        }
        club
    }
}

/// Sixty blocks, each on one of thirty drivers, with two power-routing turnouts frog to frog in each.
fn cabs() -> Club {
    let mut club = Club { forgotten: 100, dice: 7, ..Club::default() };
    for _ in 0..30 {
        club.driver();
    }
    for _ in 0..60 {
        let [left, right] = [club.node(), club.node()];
        let selector = club.metal.positions.len();
        club.metal.positions.push(30);
        for (k, cab) in club.drivers.clone().into_iter().enumerate() {
            club.join([left, cab[0]], Some((selector, 1 << k)));
            club.join([right, cab[1]], Some((selector, 1 << k)));
        }
        let frogs = [club.frog(right, left), club.frog(right, left)];
        club.join(frogs, None);
    }
    club
}

/// What was answered.
#[derive(Default)]
struct Answers {
    questions: usize,
    exhausted: usize,
    sets: usize,
    most_steps: u64,
}

impl std::fmt::Display for Answers {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Answers { questions, exhausted, sets, most_steps } = self;
        write!(
            out,
            "{questions} questions, {exhausted} answered in full, {sets} sets, at most {most_steps} steps"
        )
    }
}

/// Asks about every driver's own rails, and about the two ways in which two drivers' rails can be joined.
fn ask(club: &Club) -> Answers {
    let ends: Vec<usize> = club.drivers.iter().flatten().copied().collect();
    let mut prepared = prepare(&club.metal, &ends);
    let mut answers = Answers::default();
    let mut question = |joins: &[[usize; 2]]| {
        let found = prepared.joined(joins, BUDGET);
        answers.questions += 1;
        answers.exhausted += usize::from(found.exhaustive);
        answers.sets += found.sets.len();
        answers.most_steps = answers.most_steps.max(found.steps);
    };
    for (k, &one) in club.drivers.iter().enumerate() {
        question(&[one]);
        for &other in club.drivers.iter().skip(k + 1) {
            question(&[[one[0], other[0]], [one[1], other[1]]]);
            question(&[[one[0], other[1]], [one[1], other[0]]]);
        }
    }
    answers
}

#[divan::bench(args = FORGOTTEN, max_time = 5)]
fn two_hundred_turnouts(bencher: divan::Bencher, forgotten: u64) {
    let club = Club::of(forgotten);
    bencher.bench_local(|| ask(&club));
}

#[divan::bench(max_time = 5)]
fn cab_selectors(bencher: divan::Bencher) {
    let club = cabs();
    bencher.bench_local(|| ask(&club));
}
