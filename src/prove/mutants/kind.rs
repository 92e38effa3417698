//! The kinds of change that make a mutant.

/// What kind of change a mutant is made by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    /// A limit by one step of its last digit.
    Limit,
    /// `at_least` for `more_than`, `at_most` for `less_than`, or back.
    Strictness,
    /// The unit of a number for another one.
    Unit,
    /// A number in a value, a condition or a derived value by one step.
    Constant,
    /// A date by its last step: a day, a month, a year.
    Date,
    /// `<` for `<=`, `>` for `>=`, or back.
    Comparison,
    /// `and` for `or`, or back.
    Junction,
    /// `is` for `is not`, `is one of` for `is none of`, or back; a `not` put in or taken out.
    Negation,
    /// `+` for `-`, `*` for `/`, or back; a sign taken out.
    Arithmetic,
    /// A function for its opposite, or `abs` taken out.
    Function,
    /// A condition, or one of those it is made of, taken out.
    Condition,
    /// An entry of `instead` taken out.
    Exemption,
    /// `unproven: main_limit` taken out.
    Unproven,
    /// `until` taken out.
    Until,
    /// The least number of places by one.
    Places,
    /// The least number of readings at a place by one.
    Repeats,
    /// The largest gap between places by one step.
    Spacing,
    /// The border of a zone by one step.
    Border,
    /// A zone that is left out, or the only one that counts, taken out.
    Zone,
    /// The worst place for the mean of the places, or back.
    Judged,
    /// What a value must equal for something else.
    Equals,
    /// A choice of a list taken out or put in.
    Choice,
    /// A row of a table of limits taken out.
    Row,
    /// A bound of a row taken out that has two.
    Side,
    /// A size of a listed option by one step.
    Size,
    /// What a listed option may differ by, by one step.
    Tolerance,
    /// A listed option taken out.
    OptionRow,
    /// `rounded_to` by one step, or taken out.
    Rounding,
    /// A number of marks, or of what is to be brought, by one.
    Marks,
    /// A cap under `of_which`, `pairs` or `bring` taken out.
    MarkTerm,
    /// A trait under `alike` taken out.
    Alike,
    /// A stage at which a rule is asked taken out or put in.
    Stage,
    /// The least number of parts by one.
    Parts,
    /// Who carries the doubt at a stage, the coverage probability or the guard factor.
    Decision,
    /// What silence means.
    Silence,
}

impl Kind {
    /// Every kind, in the order in which they are told.
    pub const ALL: [Kind; 35] = [
        Kind::Limit,
        Kind::Strictness,
        Kind::Unit,
        Kind::Constant,
        Kind::Date,
        Kind::Comparison,
        Kind::Junction,
        Kind::Negation,
        Kind::Arithmetic,
        Kind::Function,
        Kind::Condition,
        Kind::Exemption,
        Kind::Unproven,
        Kind::Until,
        Kind::Places,
        Kind::Repeats,
        Kind::Spacing,
        Kind::Border,
        Kind::Zone,
        Kind::Judged,
        Kind::Equals,
        Kind::Choice,
        Kind::Row,
        Kind::Side,
        Kind::Size,
        Kind::Tolerance,
        Kind::OptionRow,
        Kind::Rounding,
        Kind::Marks,
        Kind::MarkTerm,
        Kind::Alike,
        Kind::Stage,
        Kind::Parts,
        Kind::Decision,
        Kind::Silence,
    ];

    /// The word in JSON.
    pub fn word(self) -> &'static str {
        match self {
            Kind::Limit => "limit",
            Kind::Strictness => "strictness",
            Kind::Unit => "unit",
            Kind::Constant => "constant",
            Kind::Date => "date",
            Kind::Comparison => "comparison",
            Kind::Junction => "junction",
            Kind::Negation => "negation",
            Kind::Arithmetic => "arithmetic",
            Kind::Function => "function",
            Kind::Condition => "condition",
            Kind::Exemption => "exemption",
            Kind::Unproven => "unproven",
            Kind::Until => "until",
            Kind::Places => "places",
            Kind::Repeats => "repeats",
            Kind::Spacing => "spacing",
            Kind::Border => "border",
            Kind::Zone => "zone",
            Kind::Judged => "judged",
            Kind::Equals => "equals",
            Kind::Choice => "choice",
            Kind::Row => "row",
            Kind::Side => "side",
            Kind::Size => "size",
            Kind::Tolerance => "tolerance",
            Kind::OptionRow => "option",
            Kind::Rounding => "rounding",
            Kind::Marks => "marks",
            Kind::MarkTerm => "mark_term",
            Kind::Alike => "alike",
            Kind::Stage => "stage",
            Kind::Parts => "parts",
            Kind::Decision => "decision",
            Kind::Silence => "silence",
        }
    }

    /// The words for people, as they stand before a count.
    pub fn words(self) -> &'static str {
        match self {
            Kind::Limit => "limits",
            Kind::Strictness => "strict or not",
            Kind::Unit => "units",
            Kind::Constant => "numbers in expressions",
            Kind::Date => "dates",
            Kind::Comparison => "comparisons",
            Kind::Junction => "and, or",
            Kind::Negation => "is, is not",
            Kind::Arithmetic => "signs",
            Kind::Function => "functions",
            Kind::Condition => "conditions",
            Kind::Exemption => "exemptions",
            Kind::Unproven => "unproven",
            Kind::Until => "until",
            Kind::Places => "numbers of places",
            Kind::Repeats => "numbers of readings",
            Kind::Spacing => "spacings",
            Kind::Border => "borders of zones",
            Kind::Zone => "zones",
            Kind::Judged => "worst place, mean",
            Kind::Equals => "equals",
            Kind::Choice => "choices in lists",
            Kind::Row => "rows of limits",
            Kind::Side => "sides of limits",
            Kind::Size => "sizes of listed options",
            Kind::Tolerance => "tolerances of listed options",
            Kind::OptionRow => "listed options",
            Kind::Rounding => "roundings",
            Kind::Marks => "numbers of marks",
            Kind::MarkTerm => "terms of marks",
            Kind::Alike => "traits alike",
            Kind::Stage => "stages",
            Kind::Parts => "numbers of parts",
            Kind::Decision => "who carries the doubt",
            Kind::Silence => "silence",
        }
    }
}
