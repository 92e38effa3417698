//! `rules schema`: a JSON Schema for editors.

use crate::app::{self, Exit, Host, SchemaOf, Shelves};

use super::args::{Common, RulesSchemaArgs, SchemaArg};
use super::console::Console;

pub(super) fn run(
    host: &dyn Host,
    common: &Common,
    args: &RulesSchemaArgs,
    console: &mut Console<'_>,
) -> Exit {
    let of = match args.of {
        SchemaArg::Record => SchemaOf::Record,
        SchemaArg::Rules => SchemaOf::Rules,
        SchemaArg::Form => SchemaOf::Form,
        SchemaArg::Case => SchemaOf::Case,
        SchemaArg::Overlay => SchemaOf::Overlay,
        SchemaArg::Map => SchemaOf::Map,
    };
    let found = Shelves::open(host, &common.rules_dir)
        .and_then(|shelves| app::schema(host, &shelves, &args.reference, of));
    match found {
        Ok(schema) => {
            let _ = console.print(&format!("{schema:#}\n"));
            Exit::Done
        }
        Err(trouble) => console.trouble(&trouble),
    }
}
