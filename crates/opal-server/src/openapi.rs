//! The routes and their description (OpenAPI 3.1), made together: a route that
//! is not described cannot be served.

use crate::error::ErrorBody;
use crate::routes::Served;
use axum::Router;
use axum::handler::Handler;
use axum::routing::{MethodRouter, delete, get, patch, post, put};
use schemars::generate::SchemaSettings;
use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde_json::{Map, Value, json};

/// What stands in a path by its number; anything else there is a text.
const COUNTED: [&str; 3] = ["stone", "work", "device"];

/// Where a schema comes from.
type SchemaOf = fn(&mut SchemaGenerator) -> Schema;

fn schema_of<T: JsonSchema>(generator: &mut SchemaGenerator) -> Schema {
    generator.subschema_for::<T>()
}

fn anything(_: &mut SchemaGenerator) -> Schema {
    Schema::default()
}

enum Answer {
    Nothing,
    Json(SchemaOf),
    File(&'static str),
}

/// What is told of a route.
pub(crate) struct Told {
    summary: &'static str,
    status: u16,
    query: Option<SchemaOf>,
    body: Option<SchemaOf>,
    form: Option<&'static str>,
    sent: Option<&'static str>,
    answer: Answer,
}

/// A route in a few words; its answer is none unless told.
pub(crate) fn told(summary: &'static str) -> Told {
    Told {
        summary,
        status: 204,
        query: None,
        body: None,
        form: None,
        sent: None,
        answer: Answer::Nothing,
    }
}

impl Told {
    /// What may stand after the question mark.
    pub(crate) fn query<T: JsonSchema>(mut self) -> Self {
        self.query = Some(schema_of::<T>);
        self
    }

    /// What is sent, as JSON.
    pub(crate) fn body<T: JsonSchema>(mut self) -> Self {
        self.body = Some(schema_of::<T>);
        self
    }

    /// A document with a format of its own is sent, as JSON.
    pub(crate) fn document(mut self) -> Self {
        self.body = Some(anything);
        self
    }

    /// The document may come as this part of a form with files.
    pub(crate) fn or_form(mut self, part: &'static str) -> Self {
        self.form = Some(part);
        self
    }

    /// A file of this media type is sent as it is.
    pub(crate) fn takes_file(mut self, media_type: &'static str) -> Self {
        self.sent = Some(media_type);
        self
    }

    /// The answer, as JSON.
    pub(crate) fn gives<T: JsonSchema>(mut self) -> Self {
        (self.status, self.answer) = (200, Answer::Json(schema_of::<T>));
        self
    }

    /// The answer is a document with a format of its own, named in the summary.
    pub(crate) fn gives_document(mut self) -> Self {
        (self.status, self.answer) = (200, Answer::Json(anything));
        self
    }

    /// The answer is a file or stream of this media type.
    pub(crate) fn file(mut self, media_type: &'static str) -> Self {
        (self.status, self.answer) = (200, Answer::File(media_type));
        self
    }

    /// The answer comes with this status.
    pub(crate) fn status(mut self, status: u16) -> Self {
        self.status = status;
        self
    }
}

/// Routes with their descriptions.
pub(crate) struct Routes {
    router: Router<Served>,
    told: Vec<(&'static str, &'static str, Told)>,
}

impl Routes {
    pub(crate) fn new() -> Self {
        Self {
            router: Router::new(),
            told: Vec::new(),
        }
    }

    fn route(
        mut self,
        method: &'static str,
        path: &'static str,
        told: Told,
        handler: MethodRouter<Served>,
    ) -> Self {
        self.router = self.router.route(path, handler);
        self.told.push((method, path, told));
        self
    }

    pub(crate) fn get<H: Handler<T, Served>, T: 'static>(
        self,
        path: &'static str,
        told: Told,
        handler: H,
    ) -> Self {
        self.route("get", path, told, get(handler))
    }

    pub(crate) fn post<H: Handler<T, Served>, T: 'static>(
        self,
        path: &'static str,
        told: Told,
        handler: H,
    ) -> Self {
        self.route("post", path, told, post(handler))
    }

    pub(crate) fn put<H: Handler<T, Served>, T: 'static>(
        self,
        path: &'static str,
        told: Told,
        handler: H,
    ) -> Self {
        self.route("put", path, told, put(handler))
    }

    pub(crate) fn patch<H: Handler<T, Served>, T: 'static>(
        self,
        path: &'static str,
        told: Told,
        handler: H,
    ) -> Self {
        self.route("patch", path, told, patch(handler))
    }

    pub(crate) fn delete<H: Handler<T, Served>, T: 'static>(
        self,
        path: &'static str,
        told: Told,
        handler: H,
    ) -> Self {
        self.route("delete", path, told, delete(handler))
    }

    pub(crate) fn merge(mut self, other: Self) -> Self {
        self.router = self.router.merge(other.router);
        self.told.extend(other.told);
        self
    }

    /// The router, and the description of all that it serves.
    pub(crate) fn finish(self) -> (Router<Served>, Value) {
        let document = document(&self.told);
        (self.router, document)
    }
}

fn document(routes: &[(&'static str, &'static str, Told)]) -> Value {
    let settings = SchemaSettings::draft2020_12();
    let settings = settings.with(|s| s.definitions_path = "/components/schemas".into());
    let mut generator = settings.into_generator();
    let mut paths = Map::new();
    for (method, path, told) in routes {
        let operation = operation(method, path, told, &mut generator);
        let place = paths.entry(*path).or_insert_with(|| json!({}));
        place[*method] = operation;
    }
    let error = generator.subschema_for::<ErrorBody>();
    json!({
        "openapi": "3.1.0",
        "info": {
            "title": "Opalwright workbench",
            "version": env!("CARGO_PKG_VERSION"),
            "description": "What the workbench's own page asks. A caller that is no browser sends \
                content-type application/json, or the header x-opalwright: 1, with all that changes \
                something.",
        },
        "paths": paths,
        "components": {
            "schemas": generator.take_definitions(true),
            "responses": { "Refusal": {
                "description": "What was wrong, in plain words, with every fault",
                "content": { "application/json": { "schema": {
                    "type": "object", "required": ["error"], "properties": { "error": error },
                } } },
            } },
        },
    })
}

fn operation(method: &str, path: &str, told: &Told, generator: &mut SchemaGenerator) -> Value {
    let mut parameters: Vec<Value> = path
        .split('/')
        .filter_map(|part| part.strip_prefix('{')?.strip_suffix('}'))
        .map(|name| {
            let schema = if COUNTED.contains(&name) {
                json!({ "type": "integer", "minimum": 1 })
            } else {
                json!({ "type": "string" })
            };
            json!({ "name": name, "in": "path", "required": true, "schema": schema })
        })
        .collect();
    if let Some(query) = told.query {
        parameters.extend(query_parameters(query, generator));
    }
    let mut operation = json!({
        "operationId": format!("{method}{}", path.replace(['/', '{', '}', '.', '-'], "_")),
        "summary": told.summary,
        "parameters": parameters,
    });
    if let Some(body) = told.body {
        let schema = body(generator);
        let mut content = json!({ "application/json": { "schema": schema } });
        if let Some(part) = told.form {
            content["multipart/form-data"] = json!({ "schema": {
                "type": "object",
                "required": [part],
                "properties": { part: { "type": "string", "contentMediaType": "application/json" } },
                "additionalProperties": { "type": "string", "contentMediaType": "application/octet-stream" },
            } });
        }
        operation["requestBody"] = json!({ "required": true, "content": content });
    }
    if let Some(media) = told.sent {
        operation["requestBody"] = json!({ "required": true, "content": {
            media: { "schema": { "type": "string", "format": "binary" } },
        } });
    }
    let mut answer = json!({ "description": told.summary });
    match told.answer {
        Answer::Nothing => {}
        Answer::Json(of) => {
            answer["content"] = json!({ "application/json": { "schema": of(generator) } })
        }
        Answer::File(media) => answer["content"] = json!({ media: {} }),
    }
    operation["responses"] = json!({
        told.status.to_string(): answer,
        "default": { "$ref": "#/components/responses/Refusal" },
    });
    operation
}

/// The fields of a query's shape, one parameter each.
fn query_parameters(query: SchemaOf, generator: &mut SchemaGenerator) -> Vec<Value> {
    let schema = query(generator);
    let name = schema
        .get("$ref")
        .and_then(|reference| reference.as_str()?.rsplit('/').next().map(str::to_owned));
    let shape = match name.and_then(|name| generator.definitions_mut().remove(&name)) {
        Some(shape) => shape,
        None => schema.to_value(),
    };
    let required = |name: &str| {
        let list = shape["required"].as_array();
        list.is_some_and(|list| list.iter().any(|there| there == name))
    };
    let Some(fields) = shape["properties"].as_object() else {
        return Vec::new();
    };
    fields
        .iter()
        .map(|(name, schema)| {
            json!({ "name": name, "in": "query", "required": required(name), "schema": schema })
        })
        .collect()
}
