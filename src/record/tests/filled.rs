//! The filled forms of the demo class.

use super::super::*;
use super::{filled_forms, source_of, tarn_8};
use crate::diagnostic::narrate;
use crate::text;

#[test]
fn every_filled_form_loads() {
    let forms = filled_forms();
    assert!(!forms.is_empty());
    for (name, form) in forms {
        let source = source_of(&name, &form);
        let tree = text::parse_yaml(&source).unwrap();
        let head = head(&source, &tree).unwrap();
        assert_eq!(head.class, "tarn-8");
        assert!(head.day.is_some() && head.day_faults.is_empty(), "{name}");
        match load(&source, &tree, tarn_8()) {
            Ok(record) => {
                assert_eq!(
                    Some(record.sail_number.as_str()),
                    head.sail_number.map(|(text, _)| text)
                );
                assert!(record.items.len() > 4, "{name}");
            }
            Err(faults) => panic!("{}", narrate(&faults)),
        }
    }
}
