//! Days, partial dates and moments.

use super::super::date::{DateSpan, DateTime, add_days, days_between};
use super::super::{DatePrecision, lex_date};

fn span(text: &str) -> DateSpan {
    DateSpan::parse(text).unwrap_or_else(|problem| panic!("{text}: {problem}"))
}

fn moment(text: &str) -> DateTime {
    DateTime::parse(text).unwrap_or_else(|problem| panic!("{text}: {problem}"))
}

#[test]
fn a_partial_date_is_an_interval_of_whole_days() {
    for (text, first, last, precision) in [
        ("2026-11-21", "2026-11-21", "2026-11-21", DatePrecision::Day),
        ("2011-12", "2011-12-01", "2011-12-31", DatePrecision::Month),
        ("2011", "2011-01-01", "2011-12-31", DatePrecision::Year),
        ("2024-02", "2024-02-01", "2024-02-29", DatePrecision::Month),
        ("1900-02", "1900-02-01", "1900-02-28", DatePrecision::Month),
        ("2000-02-29", "2000-02-29", "2000-02-29", DatePrecision::Day),
        ("1800-01-01", "1800-01-01", "1800-01-01", DatePrecision::Day),
        ("2200", "2200-01-01", "2200-12-31", DatePrecision::Year),
        (
            " 2026-11-21\n",
            "2026-11-21",
            "2026-11-21",
            DatePrecision::Day,
        ),
    ] {
        let read = span(text);
        assert_eq!(
            (read.first.to_string(), read.last.to_string()),
            (first.to_owned(), last.to_owned())
        );
        assert_eq!(read.precision, precision);
        assert_eq!(read.to_string(), text.trim());
    }
}

#[test]
fn dates_that_do_not_exist_are_refused_with_words() {
    for (text, under, help) in [
        ("2026-02-29", "29", "its last day is 2026-02-28"),
        ("1900-02-29", "29", "its last day is 1900-02-28"),
        ("2026-04-31", "31", "its last day is 2026-04-30"),
        ("2026-11-00", "00", "its last day is 2026-11-30"),
        ("2026-13", "13", "months run from 01 to 12"),
        ("2026-00-10", "00", "months run from 01 to 12"),
        ("1799", "1799", ""),
        ("2201-01-01", "2201", ""),
        ("0000-01-01", "0000", ""),
        ("21.11.2026", "21.11.2026", "write 2026-11-21"),
        ("11/21/2026", "11/21/2026", "write 2026-11-21"),
        (
            "03/04/2026",
            "03/04/2026",
            "write the year first, then month, then day: 2026-04-03 or 2026-03-04",
        ),
        ("04/04/2026", "04/04/2026", "write 2026-04-04"),
        ("2026-1-5", "2026-1-5", "write 2026-01-05"),
        ("2026/11", "2026/11", "write 2026-11"),
        ("20261121", "20261121", "write 2026-11-21"),
        (
            "2026-11-21 09:05",
            "2026-11-21 09:05",
            "no time is asked for here: write 2026-11-21",
        ),
        (" 2026-02-30", "30", "its last day is 2026-02-28"),
    ] {
        let problem = DateSpan::parse(text).unwrap_err();
        assert_eq!(&text[problem.range.clone()], under, "{text}");
        assert_eq!(problem.help.unwrap_or_default(), help, "{text}");
    }
    for text in [
        "",
        " ",
        "-",
        "26",
        "226",
        "20266",
        "2026-",
        "2026-11-",
        "2026-11-21-",
        "2026--21",
        "yesterday",
        "２０２６",
        "2026-11-2é",
        "+2026",
        "-2026",
        "2026-012",
        "2026-11-021",
        "21.11.2026 09:05",
        "99/99/9999",
    ] {
        let problem = DateSpan::parse(text).unwrap_err();
        assert!(
            !problem.message.is_empty() && text.get(problem.range.clone()).is_some(),
            "{text}"
        );
    }
}

#[test]
fn comparisons_answer_only_what_is_known() {
    let before = |a: &str, b: &str| span(a).before(&span(b));
    assert_eq!(before("2011-12-31", "2012-01-01"), Some(true));
    assert_eq!(before("2012-01-01", "2012-01-01"), Some(false));
    assert_eq!(before("2012-01-02", "2012-01-01"), Some(false));
    assert_eq!(before("2011", "2012-01-01"), Some(true));
    assert_eq!(
        before("2012", "2012-01-01"),
        Some(false),
        "no day of 2012 is before its first"
    );
    assert_eq!(before("2011-12", "2011-12-15"), None);
    assert_eq!(before("2011", "2011"), None);
    assert_eq!(span("2011").not_after(&span("2011-12-31")), Some(true));
    assert_eq!(span("2011").not_before(&span("2011-01-01")), Some(true));
    assert_eq!(span("2011-12").after(&span("2011-11")), Some(true));
    assert_eq!(span("2011-12").same_day(&span("2011-12-05")), None);
    assert_eq!(span("2011-12-05").same_day(&span("2011-12-05")), Some(true));
    assert_eq!(span("2011-11").same_day(&span("2011-12-05")), Some(false));
    assert_eq!(span("2011-12").as_day(), None);
}

/// Every answer of an interval is what all its days answer.
#[test]
fn an_interval_answers_for_all_its_days() {
    let texts = [
        "2019",
        "2020",
        "2020-02",
        "2020-03",
        "2020-02-28",
        "2020-02-29",
        "2020-03-01",
        "2019-12-31",
        "2020-01-01",
    ];
    let days = |span: &DateSpan| {
        let count = days_between(span.first, span.last);
        (0..=count)
            .map(|n| add_days(span.first, n).unwrap())
            .collect::<Vec<_>>()
    };
    for a in texts {
        for b in texts {
            let (a, b) = (span(a), span(b));
            let agreed = |ask: fn(jiff::civil::Date, jiff::civil::Date) -> bool| {
                let mut answers = days(&a)
                    .into_iter()
                    .flat_map(|x| days(&b).into_iter().map(move |y| ask(x, y)));
                let first = answers.next().unwrap();
                answers.all(|answer| answer == first).then_some(first)
            };
            assert_eq!(a.before(&b), agreed(|x, y| x < y), "{a} {b}");
            assert_eq!(a.after(&b), agreed(|x, y| x > y));
            assert_eq!(a.not_after(&b), agreed(|x, y| x <= y));
            assert_eq!(a.not_before(&b), agreed(|x, y| x >= y));
            assert_eq!(a.same_day(&b), agreed(|x, y| x == y), "{a} {b}");
        }
    }
}

#[test]
fn days_are_added_within_the_years() {
    assert_eq!(
        span("2025-11-22").add_days(365).unwrap().to_string(),
        "2026-11-22"
    );
    assert_eq!(
        span("2024-02-28").add_days(1).unwrap().to_string(),
        "2024-02-29"
    );
    assert_eq!(
        span("2026-01-01").add_days(-1).unwrap().to_string(),
        "2025-12-31"
    );
    for far in [i64::MAX, i64::MIN, 1_000_000, -1_000_000] {
        assert_eq!(span("2026-01-01").add_days(far), None);
    }
    assert_eq!(span("2200-12-31").add_days(1), None);
    assert_eq!(
        days_between(span("2025-11-21").first, span("2026-11-21").first),
        365
    );
    assert_eq!(
        days_between(span("2026-11-21").first, span("2025-11-21").first),
        -365
    );
}

#[test]
fn moments_are_local_and_to_the_minute() {
    assert_eq!(moment("2026-11-21 09:05").to_string(), "2026-11-21 09:05");
    assert_eq!(moment("2026-11-21 00:00").minute, Some(0));
    assert_eq!(moment("2026-11-21 23:59").minute, Some(1439));
    assert_eq!(moment("2026-11-21").minute, None);
    let before = |a: &str, b: &str| moment(a).before(&moment(b));
    assert_eq!(before("2026-11-21 09:05", "2026-11-21 11:40"), Some(true));
    assert_eq!(before("2026-11-21 09:05", "2026-11-21 09:05"), Some(false));
    assert_eq!(before("2026-11-21", "2026-11-21 11:40"), None);
    assert_eq!(before("2026-11-21", "2026-11-21"), None);
    assert_eq!(before("2026-11-21", "2026-11-21 00:00"), Some(false));
    assert_eq!(before("2026-11-20", "2026-11-21 00:00"), Some(true));
    assert_eq!(
        moment("2026-11-21 09:05").not_after(&moment("2026-11-21 09:05")),
        Some(true)
    );
    assert_eq!(
        moment("2026-11-21 23:59").not_after(&moment("2026-11-21")),
        None
    );
    for (text, under, help) in [
        (
            "2026-11-21T09:05",
            "2026-11-21T09:05",
            "write 2026-11-21 09:05",
        ),
        (
            "2026-11-21 9:05",
            "2026-11-21 9:05",
            "write 2026-11-21 09:05",
        ),
        (
            "2026-11-21 09:05:00",
            "2026-11-21 09:05:00",
            "write 2026-11-21 09:05",
        ),
        ("2026-11-21 24:00", "24:00", ""),
        ("2026-11-21 09:60", "09:60", ""),
        (
            "2026-11 09:05",
            "2026-11",
            "a day with its local time is written as 2026-11-21 09:05",
        ),
        (
            "2026-11",
            "2026-11",
            "a day with its local time is written as 2026-11-21 09:05",
        ),
        ("2026-02-30 09:05", "30", "its last day is 2026-02-28"),
    ] {
        let problem = DateTime::parse(text).unwrap_err();
        assert_eq!(&text[problem.range.clone()], under, "{text}");
        assert_eq!(problem.help.unwrap_or_default(), help, "{text}");
    }
    for text in [
        "",
        "09:05",
        "2026-11-21 09:05Z",
        "2026-11-21 0905",
        "2026-11-21 09:05 x",
        "2026-11-21T09:05+01:00",
        "2026-11-21 09:05:30",
        "21.11.2026 09:05",
        "T T",
        " t",
    ] {
        assert!(DateTime::parse(text).is_err(), "{text}");
    }
}

#[test]
fn a_date_in_an_expression_has_a_month() {
    for (text, eaten) in [
        ("2012-01-01", "2012-01-01"),
        ("2012-01-01)", "2012-01-01"),
        ("2011-12 and x", "2011-12"),
        ("2026-11-21 < day", "2026-11-21"),
    ] {
        let (end, read) = lex_date(text).unwrap();
        assert_eq!(&text[..end], eaten);
        assert_eq!(read.unwrap(), span(eaten));
    }
    for text in [
        "",
        "2011",
        "2011 - 12",
        "2011-x",
        "12-2011",
        "20111-12",
        "built",
    ] {
        assert!(lex_date(text).is_none(), "{text}");
    }
    for text in [
        "2012-13-01",
        "2012-1-1",
        "2012-01-011",
        "2012-01-01-01",
        "1750-01-01",
    ] {
        let (end, read) = lex_date(text).unwrap();
        assert_eq!(end, text.len());
        assert!(read.is_err(), "{text}");
    }
}
